// Send a file in parts, so that no request is large and the page can say how far it is.
(function () {
  function tell(id, props) { window.dash_clientside.set_props(id, props); }

  function token() {
    const found = document.cookie.match(/(?:^|; )_csrf_token=([^;]*)/);
    return found ? decodeURIComponent(found[1]) : "";
  }

  async function post(path, body) {
    const answer = await fetch(path, {
      method: "POST", body: body, headers: { "X-CSRFToken": token() } });
    let said = {};
    try { said = await answer.json(); } catch (fault) { /* no words of ours came back */ }
    if (!answer.ok) throw new Error(said.fault || "");
    return said;
  }

  async function send(file, about) {
    const size = Number(about.part);
    tell("taking-in-done", { children: null });
    tell("taking-in-progress", { hidden: false, value: "0" });
    try {
      const query = new URLSearchParams({ name: file.name, size: String(file.size) });
      const key = (await post(about.to + "?" + query)).key;
      for (let at = 0; at < file.size; at += size) {
        const share = Math.floor(100 * at / file.size);
        tell("taking-in-said", { children: about.sending.replace("{share}", share) });
        tell("taking-in-progress", { value: String(0.1 * at / file.size) });
        await post(about.to + "/" + key + "?at=" + at, file.slice(at, at + size));
      }
      tell("taking-in-sent", { data: { key: key } });
    } catch (fault) {
      tell("taking-in-said", { children: fault.message || about.broken });
      tell("taking-in-progress", { hidden: true });
    }
  }

  document.addEventListener("click", function (event) {
    const button = event.target.closest && event.target.closest("#taking-in-button");
    if (!button || button.disabled) return;
    let input = document.getElementById("taking-in-input");
    if (!input) {
      input = document.createElement("input");
      Object.assign(input, { type: "file", id: "taking-in-input", hidden: true });
      document.body.append(input);
    }
    input.accept = button.dataset.kinds;
    input.value = "";
    input.onchange = function () {
      if (input.files.length) send(input.files[0], button.dataset);
    };
    input.click();
  });
})();
