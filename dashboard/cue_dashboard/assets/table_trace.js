// The live trace: thin for what comes, thick for a stroke once it is measured.
//
// What was drawn is moved aside and only what is new is drawn: a line of ten seconds drawn afresh
// twenty times a second would cost a phone more than all the rest of the page. What arrives in
// pieces is shown evenly, a moment later than it came.
(function () {
  const SPAN_S = 10, LOW = -1.4, HIGH = 3.6, HEIGHT = 120, LEFT = 44;
  const TICK_MS = 50, LATE_S = 0.15, MOST_LATE_S = 0.6, ENOUGH_MS = 1500, ROOM_PX = 4;
  const table = window.stunpaceTable;
  const paper = document.createElement("canvas"), ink = document.createElement("canvas");
  let time = [], speed = [], strokes = [], session = null;
  let end = null, timer = 0, due = 0, ticked = 0, came = 0, look = null;

  function take(answer) {
    if (answer.session !== session) {
      session = answer.session; time = []; speed = []; strokes = []; end = look = null;
      window.clearTimeout(timer);
      timer = 0;
    }
    if (answer.t && answer.t.length) {
      time.push(...answer.t);
      speed.push(...answer.v);
      came = performance.now();
      if (end === null) end = time[time.length - 1] - LATE_S;
      if (!timer) { due = ticked = came; wait(); }
    }
    if (answer.stroke) { strokes.push(answer.stroke); look = null; }
  }

  // the time that is shown runs evenly, a little behind what has come, and closes up if it lags
  function tick() {
    const now = performance.now(), newest = time[time.length - 1], behind = newest - end;
    const pace = Math.min(Math.max(behind / LATE_S, 0.7), 1.3);
    end = behind > MOST_LATE_S ? newest - LATE_S
      : end + Math.min((now - ticked) / 1000 * pace, Math.max(behind, 0));
    ticked = now;
    draw();
    if (now - came < ENOUGH_MS) wait(); else timer = 0;
  }

  function wait() {
    const now = performance.now(), step = table.calm.matches ? 10 * TICK_MS : TICK_MS;
    due = Math.max(due + step, now + step / 4);
    timer = window.setTimeout(tick, due - now);
  }

  function draw() {
    const canvas = document.getElementById("table-trace");
    if (!canvas || !canvas.clientWidth || document.hidden || end === null) { look = null; return; }
    const pen = ink.getContext("2d");
    if (!look || look.canvas !== canvas || look.unit !== table.unit) prepare(canvas);
    const to = Math.round(end * look.perS), by = to - look.at;
    if (!by) return;
    if (by > 0 && by < look.width) {
      pen.globalCompositeOperation = "copy";
      pen.drawImage(ink, -by, 0);
      pen.globalCompositeOperation = "source-over";
    } else if (by) pen.clearRect(0, 0, ink.width, HEIGHT * look.dense);
    // from a little before: the ends of two pieces must meet
    const from = by > 0 && by < look.width ? look.at - ROOM_PX : -Infinity;
    look.at = to;
    forget();
    line(pen, time, speed, Math.max(from, to - look.width), "quiet", 1.25);
    if (from === -Infinity) {
      strokes.forEach(one => line(pen, one.t, one.v, to - look.width, "ink", 3));
    }
    const seen = canvas.getContext("2d");
    seen.clearRect(0, 0, canvas.width, canvas.height);
    seen.drawImage(paper, 0, 0);
    seen.drawImage(ink, look.left, 0);
  }

  // a strip of the trace from a moment on, in the picture's own small squares
  function line(pen, times, values, from, name, width) {
    const { perS, at, dense } = look, x = t => look.width - (at - t * perS);
    const start = look.width - (at - from);
    pen.save();
    pen.beginPath();
    pen.rect(start, 0, look.width - start + 1, HEIGHT * dense);
    pen.clip();
    if (name === "quiet") pen.clearRect(start, 0, look.width - start + 1, HEIGHT * dense);
    pen.strokeStyle = look.colours[name];
    pen.lineWidth = width * dense;
    pen.lineJoin = "round";
    pen.beginPath();
    let k = below(times, from / perS) - 1;
    for (let isFirst = true; (k = Math.max(k, 0)) < times.length; k += 1, isFirst = false) {
      pen[isFirst ? "moveTo" : "lineTo"](x(times[k]), y(values[k]) * dense);
      if (times[k] * perS > at + ROOM_PX) break;
    }
    pen.stroke();
    pen.restore();
  }

  // how many of the rising times lie before a moment
  function below(times, moment) {
    let low = 0, high = times.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] < moment) low = middle + 1; else high = middle;
    }
    return low;
  }

  // what has left the picture, a while after so that it is seldom
  function forget() {
    const first = below(time, end - SPAN_S);
    if (first < 500) return;
    time = time.slice(first);
    speed = speed.slice(first);
    strokes = strokes.filter(one => one.t[one.t.length - 1] > end - SPAN_S);
  }

  function y(value) {
    return HEIGHT * (HIGH - Math.min(Math.max(value, LOW), HIGH)) / (HIGH - LOW);
  }

  function prepare(canvas) {
    const dense = window.devicePixelRatio || 1, style = getComputedStyle(document.documentElement);
    const colour = name => style.getPropertyValue(`--${name}`).trim();
    canvas.width = Math.round(canvas.clientWidth * dense);
    canvas.height = Math.round(HEIGHT * dense);
    canvas.setAttribute("aria-label", table.words.trace);
    const left = Math.round(LEFT * dense), width = canvas.width - left;
    look = {
      canvas, dense, left, width, unit: table.unit, perS: width / SPAN_S, at: 0,
      colours: Object.fromEntries(["ink", "quiet", "faint", "line"].map(one => [one, colour(one)])),
    };
    look.at = -2 * width;  // nothing of it is drawn yet
    ink.width = width; ink.height = canvas.height;
    paper.width = canvas.width; paper.height = canvas.height;
    scale(paper.getContext("2d"), canvas.clientWidth, style.getPropertyValue("--font"));
  }

  function scale(pen, width, font) {
    const factor = table.scales[table.unit] || 1, step = factor > 2 ? 2 : 1;
    pen.setTransform(look.dense, 0, 0, look.dense, 0, 0);
    pen.font = `12px ${font}`;
    pen.textBaseline = "middle";
    pen.lineWidth = 1;
    const most = Math.floor(HIGH * factor);
    for (let shown = 0; shown <= most; shown += step * (factor > 3 ? 2 : 1)) {
      const at = Math.round(y(shown / factor)) + 0.5;
      pen.strokeStyle = look.colours[shown === 0 ? "faint" : "line"];
      pen.beginPath();
      pen.moveTo(LEFT, at);
      pen.lineTo(width, at);
      pen.stroke();
      pen.fillStyle = look.colours.quiet;
      const label = shown === 0 ? table.unit : String(shown);
      pen.fillText(label, 0, Math.min(Math.max(at, 7), HEIGHT - 7));
    }
  }

  function anew() { look = null; if (!timer) draw(); }

  table.listeners.push(take);
  table.onStarted.push(() => { session = null; });
  window.addEventListener("resize", anew);
  new MutationObserver(anew).observe(document.documentElement, {
    attributes: true, attributeFilter: ["data-mantine-color-scheme"],
  });
})();
