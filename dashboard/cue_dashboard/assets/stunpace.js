// Small things only the browser can do: follow the colour scheme, and the arrow keys.
(function () {
  const SCHEMES = ["light", "dark"];
  const root = document.documentElement;

  function systemScheme() {
    return window.matchMedia("(prefers-color-scheme: dark)").matches ? "dark" : "light";
  }

  function scheme() {
    const shown = root.getAttribute("data-mantine-color-scheme");
    return SCHEMES.includes(shown) ? shown : systemScheme();
  }

  // before anything is drawn, so that a page opened at night does not flash
  try {
    const kept = localStorage.getItem("mantine-color-scheme-value");
    root.setAttribute(
      "data-mantine-color-scheme", SCHEMES.includes(kept) ? kept : systemScheme());
  } catch (fault) {
    root.setAttribute("data-mantine-color-scheme", systemScheme());
  }

  // the server sends a page with its figures and paces in it, so it must know how they are shown
  function tell(name, value) {
    document.cookie =
      `stunpace_${name}=${encodeURIComponent(value)}; path=/; SameSite=Strict; max-age=31536000`;
  }
  tell("scheme", scheme());

  // Dash draws by the library it finds here: ours draws lines and marks, and is a quarter as long
  Object.defineProperty(window, "_dashPlotlyJSURL", {
    get: () => "/assets/plotly-basic.min.js?m=4.1.1",
    set: () => {},
  });

  let isWatching = false;
  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    stunpace: {
      // the scheme that is shown, kept up to date for the figures
      watch_scheme: function (_started, store) {
        if (!isWatching) {
          isWatching = true;
          new MutationObserver(function () {
            tell("scheme", scheme());
            window.dash_clientside.set_props(store, { data: scheme() });
          }).observe(root, { attributes: true, attributeFilter: ["data-mantine-color-scheme"] });
        }
        return scheme();
      },
      tell_unit: function (unit) {
        tell("unit", unit);
        return unit;
      },
    },
  });

  const KEYS = { ArrowLeft: "strokes-previous", ArrowRight: "strokes-next" };
  const TYPING = "input, textarea, select, [role=slider], [role=radiogroup], [contenteditable]";
  document.addEventListener("keydown", function (event) {
    const button = document.getElementById(KEYS[event.key]);
    if (!button || event.altKey || event.ctrlKey || event.metaKey) return;
    if (event.target.closest && event.target.closest(TYPING)) return;
    event.preventDefault();
    button.click();
  });
})();
