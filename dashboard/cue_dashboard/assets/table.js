// At the table: what is live comes over a lean wire, and taps are kept until the log has them.
(function () {
  const LIVE = "/table/live", TAP = "/table/tap", OUTBOX = "stunpace-taps";
  const SOON_MS = 40, FAST_MS = 100, CALM_MS = 500, IDLE_MS = 250, HIDDEN_MS = 1000, AWAY_MS = 1000, PATIENCE_MS = 6000;
  const SETTLE_MS = 300;  // a thumb that was on its way when the page went on to another shot
  const ONCE = ["undo", "nudge", "next"];  // not to be sent again: twice would be once too often
  const RESULTS = {
    "grade:too_little": "table-grade-too-little", "grade:right": "table-grade-right",
    "grade:too_much": "table-grade-too-much", "potted:yes": "table-potted",
    "potted:no": "table-missed",
  };

  const table = (window.stunpaceTable = {
    listeners: [],            // called with each answer of the wire
    onStarted: [],            // called when the page is there anew
    page: null, words: {}, scales: {}, digits: {}, unit: "m/s",
    shown: null, kind: "cushion",
    calm: window.matchMedia("(prefers-reduced-motion: reduce)"),
  });
  let key = "", session = "", after = "", stroke = "", isAway = false, isSending = false;
  let lastPlan = null, changed = -SETTLE_MS, timer = 0, awaySaid = "", lastSaid = "", run = "", isAnew = false;

  function set(id, properties) { window.dash_clientside.set_props(id, properties); }

  // another shot in hand: the plan asks for what that one has not got yet
  function show_shot(shown) {
    const known = table.shown;
    table.shown = shown;
    if (known && known.shot_id === shown.shot_id) return;
    if (known && known.shot_id !== null) changed = performance.now();
    table.kind = shown.cushion && !shown.stop ? "stop" : "cushion";
    set("table-where-kind", { value: table.kind });
  }

  function headers() {
    const csrf = document.cookie.split("; ").find(one => one.startsWith("_csrf_token="));
    return {
      "Content-Type": "application/json",
      "X-CSRFToken": csrf ? decodeURIComponent(csrf.split("=")[1]) : "",
    };
  }

  class Refused extends Error {}  // this device's pass, or its page, is not known any more

  // a program that hangs is as good as away
  async function patient(where, how) {
    const ended = new AbortController();
    const patience = window.setTimeout(() => ended.abort(), PATIENCE_MS);
    try {
      return await fetch(where, { ...how, signal: ended.signal });
    } finally {
      window.clearTimeout(patience);
    }
  }

  // ---- what is live
  async function look() {
    timer = 0;
    const page = document.getElementById("table-page");
    if (page !== table.page) begin(page);
    let wait = IDLE_MS;
    const asked_ms = performance.now();
    if (page) {
      const asked = new URLSearchParams({ key, session, after, stroke });
      try {
        const answer = await patient(`${LIVE}?${asked}`, { cache: "no-store" });
        if (answer.status === 429) wait = AWAY_MS;
        else if (answer.status === 403) throw new Refused();
        else if (!answer.ok) throw new Error(String(answer.status));
        else wait = take(await answer.json());
        if (isAway || isAnew) back();
      } catch (fault) {
        away(fault instanceof Refused);
        wait = AWAY_MS;
      }
      if (document.hidden) wait = Math.max(wait, HIDDEN_MS);
    }
    // from question to question, however long the answer took
    timer = window.setTimeout(look, Math.max(wait - (performance.now() - asked_ms), 5));
  }

  function lookNow() {
    if (timer) { window.clearTimeout(timer); look(); }
  }

  function begin(page) {
    table.page = page;
    key = session = after = stroke = lastSaid = "";
    if (!page) return;
    key = page.dataset.key;  // the page came with what it stands for
    table.words = JSON.parse(page.dataset.words);
    table.scales = JSON.parse(page.dataset.scales);
    table.digits = JSON.parse(page.dataset.digits);
    table.onStarted.forEach(one => one());
    send();
  }

  function take(answer) {
    if (String(answer.session) !== session) { after = stroke = ""; session = String(answer.session); }
    if (answer.t && answer.t.length) after = String(answer.t[answer.t.length - 1]);
    if (answer.stroke) stroke = String(answer.stroke.at);
    if (answer.desk) { set("table-desk", { data: answer.desk }); }
    key = answer.key;
    isAnew = isAnew || (run !== "" && answer.run !== run);
    run = answer.run;
    const said = [answer.said, answer.look, answer.facts].join("|");
    if (said !== lastSaid) {  // to tell the page the same again would cost it more than the trace
      lastSaid = said;
      set("table-state", { children: answer.said, className: answer.look });
      set("table-facts", { children: answer.facts });
    }
    table.listeners.forEach(one => one(answer));
    if (answer.soon) return SOON_MS;  // somebody has just played and looks up
    if (!answer.look.includes(" ")) return IDLE_MS;
    return table.calm.matches ? CALM_MS : FAST_MS;
  }

  function away(isRefused) {
    const n = kept().length;
    const said = isRefused ? table.words.refused
      : n ? table.words.away_n.replace("{n}", n) : table.words.away;
    if (isAway && said === awaySaid) return;
    isAway = true; awaySaid = said;
    set("table-away", { children: said, hidden: false });
  }

  let isComing = false;
  function back() {
    isAway = false;
    if (isComing) return;  // looks go on while what was kept is sent
    isComing = true;
    send().catch(() => {}).then(() => {
      isComing = false;
      if (isAway) return;
      const said = isAnew ? table.words.back_anew : table.words.back;
      set("table-away", { children: said, hidden: false });
      window.setTimeout(() => { if (!isAway) set("table-away", { hidden: true }); }, isAnew ? 9000 : 4000);
      isAnew = false;
    });
  }

  // ---- taps
  function kept() {
    try { return JSON.parse(localStorage.getItem(OUTBOX)) || []; } catch (fault) { return memory; }
  }
  let memory = [];
  function keep(taps) {
    memory = taps;
    try { localStorage.setItem(OUTBOX, JSON.stringify(taps)); } catch (fault) { /* kept in memory */ }
  }

  function mark() {
    const bytes = crypto.getRandomValues(new Uint8Array(12));
    return Array.from(bytes, one => one.toString(16).padStart(2, "0")).join("");
  }

  function tap(what, value, point) {
    const shown = table.shown;
    if (!shown) return;
    if (performance.now() - changed < SETTLE_MS && what !== "undo") {
      set("table-said", { children: table.words.moved_on });
      return;
    }
    const one = {
      id: mark(), what, value, series: shown.series_id, shot: shown.shot_id,
      kind: table.kind, point: point || null, at: Date.now(),
    };
    press(what, value);
    table.mark(one);
    if (isAway && ONCE.includes(what)) {
      set("table-said", { children: table.words.not_done });
      return;
    }
    keep(kept().concat([one]));
    if (isAway) { set("table-said", { children: table.words.sending }); away(awaySaid === table.words.refused); }
    else send();
  }

  function press(what, value) {
    const pressed = RESULTS[`${what}:${value}`];
    if (!pressed) return;
    Object.entries(RESULTS).filter(([name]) => name.startsWith(what + ":")).forEach(([_, id]) =>
      set(id, { "aria-pressed": id === pressed ? "true" : "false" }));
  }

  async function send() {
    if (isSending) return;
    isSending = true;
    try {
      for (let one = kept()[0]; one; one = kept()[0]) {
        const slow = window.setTimeout(
          () => set("table-said", { children: table.words.sending }), 1200);
        let answer;
        try {
          answer = await patient(TAP, {
            method: "POST", headers: headers(), keepalive: true,
            body: JSON.stringify({ ...one, age_s: (Date.now() - one.at) / 1000 }),
          });
          if (answer.status === 403) throw new Refused();
          if (answer.status >= 500 || answer.status === 429) throw new Error(String(answer.status));
        } catch (fault) {
          if (ONCE.includes(one.what)) {
            keep(kept().filter(other => other.id !== one.id));
            set("table-said", { children: table.words.not_done });
          }
          away(fault instanceof Refused);
          return;
        } finally {
          window.clearTimeout(slow);
        }
        keep(kept().filter(other => other.id !== one.id));
        const done = answer.headers.get("Content-Type") === "application/json"
          ? await answer.json() : { said: "" };
        table.answered(one.id, done.is_kept);
        show(done);
      }
    } finally {
      isSending = false;
      lookNow();
    }
  }

  function show(done) {
    if (!document.getElementById("table-page")) return;
    set("table-said", { children: done.said });
    if (done.pick) set("table-pick", { data: done.pick });
    if (done.kind) set("table-where-kind", { value: done.kind });
  }

  document.addEventListener("click", event => {
    const button = event.target.closest && event.target.closest("[data-tap]");
    if (button && !button.disabled) tap(button.dataset.tap, button.dataset.value || "");
  });
  document.addEventListener("visibilitychange", lookNow);
  window.addEventListener("online", lookNow);

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    table: {
      // what the page shows, for taps; the plan's taps come this way as well
      keep: function (shown, kind, unit, plan) {
        table.kind = kind || table.kind;
        if (shown) show_shot(shown);
        table.unit = unit || table.unit;
        if (plan && plan !== lastPlan) {
          lastPlan = plan;
          set("table-plan", { clickData: null });  // or the same place would not count a second time
          const point = plan.xvals ? [plan.xvals[0], plan.yvals[0]]
            : plan.points && plan.points.length ? [plan.points[0].x, plan.points[0].y] : null;
          if (point) tap("plan", "", point);
        }
        lookNow();
        return window.dash_clientside.no_update;
      },
      aids: function (say, tone, awake) {
        return window.stunpaceAids ? window.stunpaceAids(say, tone, awake) : "";
      },
    },
  });
  timer = window.setTimeout(look, 0);
})();
