// The plan on which a set-up is built: balls and corners are dragged, or moved with the arrow keys.
// The draft is in metres of the table frame, y away from baulk; the drawing is in millimetres.
(function () {
  const NS = "http://www.w3.org/2000/svg";
  const MM = 1000, BALL_M = 0.02625, EDGE_MM = 95, RAIL_MM = 50, SPOT_MM = 12;
  const FINGER_PX = 22, STEP_M = 0.01, FINE_M = 0.001, SEND_MS = 150, DOT_PX = 7, CLEAR_M = 0.12;
  const ARROWS = {
    ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1],
  };
  const BOARD = "setups-board", DRAFT = "setups-draft", CHOSEN = "setups-chosen";
  const AREA = "setups-area-kind", TAPPING = "setups-tap-corners";

  let draft = null, shown = null, names = {}, chosen = "white";
  let svg = null, items = null, drag = null, sentAt = 0, waiting = null, wasDragged = false;
  let isDrawing = true, seen = null, revision = 0;

  let told = [];
  function set(id, props) { window.dash_clientside.set_props(id, props); }

  function make(name, attributes, parent) {
    const element = document.createElementNS(NS, name);
    for (const key in attributes) element.setAttribute(key, attributes[key]);
    if (parent) parent.appendChild(element);
    return element;
  }

  function wide() { return draft.table.width_m; }
  function long() { return draft.table.length_m; }
  function place(at) { return [at[0] * MM, (long() - at[1]) * MM]; }
  function pxPerMm() { const m = svg.getScreenCTM(); return m && m.a ? m.a : 0.2; }

  function onTable(event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(
      svg.getScreenCTM().inverse());
    return [at.x / MM, long() - at.y / MM];
  }

  // ---- what there is to move: balls by their names, corners by their numbers
  function keys() {
    const corners = isDrawing ? draft.corners.map((_, k) => "corner-" + (k + 1)) : [];
    return Object.keys(draft.balls).concat(corners);
  }

  function at(key, of) {
    of = of || draft;
    const number = /^corner-(\d+)$/.exec(key);
    return number ? of.corners[Number(number[1]) - 1] : of.balls[key];
  }

  function nameOf(key) {
    const number = /^(\w+)-(\d+)$/.exec(key);
    return number ? names[number[1]].replace("{number}", number[2]) : names[key];
  }

  function spoken(key) {
    const [x, y] = at(key);
    return names.place.replace("{name}", nameOf(key))
      .replace("{across}", Math.round(x * MM)).replace("{up}", Math.round(y * MM));
  }

  function rounded(value) { return Math.round(value * 1e4) / 1e4; }

  function held(key, x, y) {
    const edge = key.startsWith("corner-") ? 0 : BALL_M;
    return [rounded(Math.min(Math.max(x, edge), wide() - edge)),
      rounded(Math.min(Math.max(y, edge), long() - edge))];
  }

  function changed(change) {
    const copy = JSON.parse(JSON.stringify(draft));
    change(copy);
    copy.revision = ++revision;
    return copy;
  }

  // what was moved here is newer than what still travels through the page's callbacks; a draft
  // without a revision is one that was opened
  function accept(newDraft) {
    if (newDraft === seen) return;
    seen = newDraft;
    const isOld = draft && newDraft.revision !== undefined && newDraft.revision < revision;
    if (!drag && !isOld) draft = newDraft;
  }

  function put(copy, key, to) {
    const number = /^corner-(\d+)$/.exec(key);
    if (number) copy.corners[Number(number[1]) - 1] = to;
    else copy.balls[key] = to;
  }

  function move(key, x, y, isLast) {
    draft = changed((copy) => put(copy, key, held(key, x, y)));
    paint();
    send(isLast);
  }

  // while something is dragged the server hears of it now and then, and of its end for certain
  function send(isLast) {
    clearTimeout(waiting);
    const now = Date.now();
    if (isLast || now - sentAt > SEND_MS) {
      sentAt = now;
      set(DRAFT, { data: draft });
    } else {
      waiting = setTimeout(() => send(true), SEND_MS);
    }
  }

  function choose(key) {
    if (key === chosen) return;
    chosen = key;
    set(CHOSEN, { value: key });
    paint();
  }

  // ---- drawing
  function build(board) {
    board.replaceChildren();
    svg = make("svg", { role: "group", "aria-label": names.board }, board);
    const hatch = make("pattern", {
      id: "s-hatch", width: 46, height: 46, patternUnits: "userSpaceOnUse",
      patternTransform: "rotate(45)",
    }, make("defs", {}, svg));
    make("line", { class: "s-hatch", x1: 0, y1: 0, x2: 0, y2: 46, "stroke-width": 9 }, hatch);
    for (const layer of ["table", "under", "items"]) make("g", { id: "s-" + layer }, svg);
    items = svg.querySelector("#s-items");
    svg.addEventListener("pointerdown", take);
    svg.addEventListener("pointermove", pull);
    svg.addEventListener("pointerup", drop);
    svg.addEventListener("pointercancel", drop);
    svg.addEventListener("click", tap);
    svg.addEventListener("keydown", press);
    svg.addEventListener("focusin", (event) => {
      const item = event.target.closest("[data-item]");
      if (item) choose(item.dataset.item);
    });
    new ResizeObserver(() => { if (draft) paint(); }).observe(board);
  }

  function paintTable() {
    const layer = svg.querySelector("#s-table"), aim = shown && shown.pocket;
    const key = JSON.stringify([wide(), long(), aim]);
    if (layer.dataset.key === key) return;
    layer.dataset.key = key;
    layer.replaceChildren();
    const table = draft.table, w = wide() * MM, l = long() * MM;
    svg.setAttribute("viewBox",
      [-EDGE_MM, -EDGE_MM, w + 2 * EDGE_MM, l + 2 * EDGE_MM].join(" "));
    make("rect", { class: "s-rail", x: -RAIL_MM, y: -RAIL_MM, width: w + 2 * RAIL_MM,
      height: l + 2 * RAIL_MM, rx: 30 }, layer);
    make("rect", { class: "s-cloth", x: 0, y: 0, width: w, height: l }, layer);
    const baulk = (table.length_m - table.baulk_line_m) * MM, d = table.d_radius_m * MM;
    make("path", { class: "s-line", d: `M0 ${baulk}H${w}` }, layer);
    make("path", { class: "s-line",
      d: `M${w / 2 - d} ${baulk}A${d} ${d} 0 0 0 ${w / 2 + d} ${baulk}` }, layer);
    for (const spot of table.spots) {
      const [x, y] = place(spot);
      make("path", { class: "s-line", d: `M${x - SPOT_MM} ${y}h${2 * SPOT_MM}M${x} ${y - SPOT_MM}v${2 * SPOT_MM}` }, layer);
    }
    for (const name in table.pockets) {
      const [x, y, r] = table.pockets[name], to = place([x, y]);
      make("circle", { class: "s-pocket" + (name === aim ? " aim" : ""), cx: to[0], cy: to[1],
        r: r * MM }, layer);
    }
  }

  function line(points) {
    return points.map((p) => place(p).map((v) => v.toFixed(1)).join(",")).join(" ");
  }

  function paintUnder(scale) {
    const layer = svg.querySelector("#s-under");
    layer.replaceChildren();
    const area = isDrawing ? draft.corners : (shown && shown.area) || [];
    if (area.length) make("polygon", { class: "s-area", points: line(area) }, layer);
    if (!shown) return;
    const pocket = draft.table.pockets[shown.pocket];
    if (pocket) {
      make("polyline", { class: "s-pot", points: line([draft.balls.object, pocket]) }, layer);
    }
    for (const kind of ["lands", "strays"]) {
      for (const point of shown[kind] || []) {
        const [x, y] = place(point);
        make("circle", { class: "s-dot " + kind, cx: x, cy: y, r: 2.4 / scale }, layer);
      }
    }
    if (shown.path) make("polyline", { class: "s-path", points: line(shown.path) }, layer);
    for (const point of shown.cushions || []) {
      const [x, y] = place(point), r = 5 / scale;
      make("path", { class: "s-cushion",
        d: `M${x - r} ${y}L${x} ${y - r}L${x + r} ${y}L${x} ${y + r}Z` }, layer);
    }
    if (shown.stop) {
      const [x, y] = place(shown.stop);
      make("circle", { class: "s-stop", cx: x, cy: y, r: Math.max(BALL_M * MM, 6 / scale) }, layer);
    }
  }

  function item(key) {
    const found = items.querySelector(`[data-item="${key}"]`);
    if (found) return found;
    const group = make("g", { class: "s-item s-" + key.split("-")[0], "data-item": key,
      tabindex: 0, role: "button" }, items);
    make("circle", { class: "s-ring" }, group);
    make("circle", { class: "s-ball" }, group);
    make("text", { class: "s-name" }, group);
    make("circle", { class: "s-grip" }, group);
    return group;
  }

  function paint() {
    if (!svg || !svg.isConnected || !draft) return;
    paintTable();
    const scale = pxPerMm(), there = keys();
    paintUnder(scale);
    items.querySelectorAll("[data-item]").forEach((e) => {
      if (!there.includes(e.dataset.item)) e.remove();
    });
    for (const key of there) paintItem(key, scale);
  }

  function paintItem(key, scale) {
    const group = item(key), [x, y] = place(at(key)), isCorner = key.startsWith("corner-");
    const [ring, ball, text, grip] = group.children;
    group.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    group.setAttribute("aria-label", spoken(key));
    group.setAttribute("aria-pressed", String(key === chosen));
    group.classList.toggle("chosen", key === chosen);
    ball.setAttribute("r", isCorner ? DOT_PX / scale : BALL_M * MM);
    ring.setAttribute("r", 14 / scale);
    grip.setAttribute("r", FINGER_PX / scale);
    const size = 13 / scale;
    text.textContent = isCorner && key !== chosen ? "" : nameOf(key);
    text.setAttribute("font-size", size);
    text.setAttribute("stroke-width", 3 / scale);
    const half = 0.29 * size * text.textContent.length;
    const [across, down] = besides(key, [x, y], half, scale);
    text.setAttribute("x", across);
    text.setAttribute("y", down);
  }

  // where a name stands clear of lines, spots and other balls: above if that will do
  function besides(key, [x, y], half, scale) {
    const room = RAIL_MM + 30, out = 16 / scale + half;
    const kept = Math.max(-room + half - x, 0) - Math.max(x + half - wide() * MM - room, 0);
    const isOn = ([dx]) =>
      dx === kept || Math.abs(x + dx - wide() * MM / 2) + half < wide() * MM / 2 + room;
    const places = [[kept, -18], [kept, 27], [out, 5], [-out, 5], [out, -13], [-out, -13],
      [out, 22], [-out, 22]].map(([dx, dy]) => [dx, dy / scale]).filter(isOn);
    const balls = keys().filter((other) => other !== key).map((other) => place(at(other)));
    const lines = waysDrawn(), spots = draft.table.spots.map((spot) => place(spot));
    let best = places[0], most = -1;
    for (const [dx, dy] of places) {
      const middle = y + dy - 4.5 / scale;
      const along = Array.from({ length: 15 }, (_, k) => [x + dx + (k / 7 - 1) * half, middle]);
      const gaps = along.flatMap((p) => [
        ...lines.map(([a, b]) => gap(p, a, b)), ...balls.map((b) => gap(p, b, b) - 8 / scale),
        ...spots.map((s) => gap(p, s, s) - SPOT_MM)]);
      const free = Math.min(16 / scale, ...gaps);
      if (free > most + 1e-6) { most = free; best = [dx, dy]; }
    }
    return best;
  }

  function waysDrawn() {
    const pocket = shown && draft.table.pockets[shown.pocket];
    const ways = [pocket ? [draft.balls.object, pocket] : [], (shown && shown.path) || []];
    return ways.flatMap((way) => {
      const points = way.map((p) => place(p));
      return points.slice(1).map((p, k) => [points[k], p]);
    });
  }

  function gap(p, a, b) {
    const dx = b[0] - a[0], dy = b[1] - a[1], long2 = dx * dx + dy * dy;
    const along = long2 ? ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / long2 : 0;
    const share = Math.min(Math.max(along, 0), 1);
    return Math.hypot(p[0] - a[0] - share * dx, p[1] - a[1] - share * dy);
  }

  // ---- pointer: the nearest thing within a finger's reach is taken
  function nearest(event) {
    const [x, y] = onTable(event), reach = (FINGER_PX * 1.3) / pxPerMm() / MM;
    let best = null, least = reach;
    for (const key of keys()) {
      const [a, b] = at(key), gap = Math.hypot(a - x, b - y) - (key === chosen ? 0.004 : 0);
      if (gap < least) { best = key; least = gap; }
    }
    return best;
  }

  function take(event) {
    wasDragged = false;
    if (event.button > 0) return;
    const key = nearest(event);
    if (!key) return;
    const [x, y] = onTable(event), [a, b] = at(key);
    drag = { key: key, dx: a - x, dy: b - y, x: event.clientX, y: event.clientY };
    svg.setPointerCapture(event.pointerId);
    choose(key);
    item(key).focus({ preventScroll: true });
    event.preventDefault();
  }

  function pull(event) {
    if (!drag) return;
    if (!wasDragged && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < 3) return;
    wasDragged = true;
    const [x, y] = onTable(event);
    move(drag.key, x + drag.dx, y + drag.dy, false);
  }

  function drop() {
    if (!drag) return;
    drag = null;
    if (wasDragged) send(true);
  }

  function tap(event) {
    const board = document.getElementById(BOARD);
    if (wasDragged || !isDrawing || !board.classList.contains("tapping") || nearest(event)) return;
    const [x, y] = onTable(event);
    if (x >= 0 && y >= 0 && x <= wide() && y <= long()) addCorner(held("corner-0", x, y));
  }

  function press(event) {
    const group = event.target.closest("[data-item]"), way = ARROWS[event.key];
    if (!group || event.altKey || event.ctrlKey || event.metaKey) return;
    const key = group.dataset.item;
    if (way) {
      event.preventDefault();
      event.stopPropagation();
      const step = event.shiftKey ? FINE_M : STEP_M, [x, y] = at(key);
      move(key, x + way[0] * step, y + way[1] * step, false);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      event.preventDefault();
      remove(key);
    }
  }

  // ---- adding and taking away
  function commit(copy, key) {
    draft = copy;
    chosen = key;
    set(CHOSEN, { value: key });
    paint();
    send(true);
  }

  function free() {
    const others = Object.values(draft.balls);
    const spots = draft.table.spots.slice().reverse();
    spots.push([0.25 * wide(), 0.4 * long()], [0.75 * wide(), 0.4 * long()]);
    const clear = spots.filter(
      (s) => others.every((o) => Math.hypot(s[0] - o[0], s[1] - o[1]) > CLEAR_M));
    return (clear[0] || [0.5 * wide(), 0.3 * long()]).map(rounded);
  }

  function addBall(key) { commit(changed((copy) => { copy.balls[key] = free(); }), key); }

  function addObstacle() {
    let number = 1;
    while (draft.balls["obstacle-" + number]) number += 1;
    addBall("obstacle-" + number);
  }

  // a corner joins the side it lengthens least, so that the area does not cross itself
  function addCorner(to) {
    const corners = draft.corners, n = corners.length;
    const middle = [0.5 * wide(), 0.7 * long()];
    let after = n - 1;
    if (!to && n < 3) {
      to = [middle[0] + [-0.2, 0.2, 0][n], middle[1] + [-0.2, -0.2, 0.2][n]].map(rounded);
    } else if (n >= 3) {
      const gap = (a, b) => Math.hypot(a[0] - b[0], a[1] - b[1]);
      const costs = corners.map((a, k) => {
        const b = corners[(k + 1) % n];
        return to ? gap(a, to) + gap(to, b) - gap(a, b) : -gap(a, b);
      });
      after = costs.indexOf(Math.min(...costs));
      const next = corners[(after + 1) % n];
      to = to || [0, 1].map((i) => rounded((corners[after][i] + next[i]) / 2));
    }
    commit(changed((copy) => { copy.corners.splice(after + 1, 0, to); }), "corner-" + (after + 2));
  }

  function remove(key) {
    if (key === "white" || key === "object" || !at(key)) return;
    const number = /^corner-(\d+)$/.exec(key);
    commit(changed((copy) => {
      if (number) copy.corners.splice(Number(number[1]) - 1, 1);
      else delete copy.balls[key];
    }), "white");
  }

  const EDITS = {
    "setups-add-next": () => { if (!draft.balls.next) addBall("next"); },
    "setups-add-obstacle": addObstacle,
    "setups-remove": () => remove(chosen),
    "setups-add-corner": () => addCorner(null),
    "setups-clear-corners": () => commit(changed((copy) => { copy.corners = []; }), "white"),
  };

  window.dash_clientside = Object.assign({}, window.dash_clientside, {
    setups: {
      draw: function (newDraft, newShown, newChosen, kind, isTapping, newNames) {
        const board = document.getElementById(BOARD);
        if (!board || !newDraft) return window.dash_clientside.no_update;
        names = newNames || names;
        if (!svg || svg.parentNode !== board) build(board);
        accept(newDraft);
        if (!drag) chosen = newChosen || chosen;
        shown = newShown || shown;
        isDrawing = kind === "drawn";
        board.classList.toggle("tapping", Boolean(isTapping) && isDrawing);
        paint();
        return Date.now();
      },
      things: function (newDraft, kind, newNames) {
        if (!newDraft) return window.dash_clientside.no_update;
        accept(newDraft);
        names = newNames || names;
        isDrawing = kind === "drawn";
        return keys().map((key) => ({ value: key, label: nameOf(key) }));
      },
      place_of: function (newDraft, key) {
        const none = window.dash_clientside.no_update, to = newDraft && at(key || "", newDraft);
        if (!to) return [none, none];
        told = to.map((value) => Math.round(value * MM * 10) / 10);
        return told;
      },
      typed: function (across, up, newDraft, key) {
        const none = window.dash_clientside.no_update, from = newDraft && at(key || "", newDraft);
        if (!from || typeof across !== "number" || typeof up !== "number") return none;
        // what the fields were told themselves is older than the ball, not a wish
        if (across === told[0] && up === told[1]) return none;
        const to = [across / MM, up / MM];
        if (Math.hypot(to[0] - from[0], to[1] - from[1]) < 6e-5) return none;
        const copy = JSON.parse(JSON.stringify(newDraft));
        put(copy, key, to.map(rounded));
        copy.revision = ++revision;
        set(DRAFT, { data: copy });
        return Date.now();
      },
      edit: function () {
        const triggered = window.dash_clientside.callback_context.triggered_id;
        if (draft && EDITS[triggered]) EDITS[triggered]();
        return window.dash_clientside.no_update;
      },
    },
  });
})();
