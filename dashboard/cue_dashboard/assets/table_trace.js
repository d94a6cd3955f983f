// The live trace: thin for what comes, thick for a stroke once it is measured.
(function () {
  const SPAN_S = 10, LOW = -1.4, HIGH = 3.6, HEIGHT = 120, LEFT = 44;
  const table = window.stunpaceTable;
  let time = [], speed = [], strokes = [], session = null, end = 0;

  function take(answer) {
    if (answer.session !== session) { session = answer.session; time = []; speed = []; strokes = []; }
    if (answer.stroke) strokes.push(answer.stroke);
    if (answer.t && answer.t.length) {
      time.push(...answer.t);
      speed.push(...answer.v);
      end = time[time.length - 1];
      const first = time.findIndex(one => one > end - SPAN_S);
      time = time.slice(first);
      speed = speed.slice(first);
      strokes = strokes.filter(one => one.t[one.t.length - 1] > end - SPAN_S);
    }
    if ((answer.t && answer.t.length) || answer.stroke) draw();
  }

  function line(pen, times, values, x, y) {
    pen.beginPath();
    times.forEach((at, k) => (k ? pen.lineTo : pen.moveTo).call(pen, x(at), y(values[k])));
    pen.stroke();
  }

  function draw() {
    const canvas = document.getElementById("table-trace");
    if (!canvas || !canvas.clientWidth || document.hidden) return;
    const width = canvas.clientWidth, dense = window.devicePixelRatio || 1;
    if (canvas.width !== Math.round(width * dense)) {
      canvas.width = Math.round(width * dense);
      canvas.height = Math.round(HEIGHT * dense);
      canvas.setAttribute("aria-label", table.words.trace);
    }
    const look = getComputedStyle(document.documentElement);
    const colour = name => look.getPropertyValue(`--${name}`).trim();
    const pen = canvas.getContext("2d");
    pen.setTransform(dense, 0, 0, dense, 0, 0);
    pen.clearRect(0, 0, width, HEIGHT);
    const y = value => HEIGHT * (HIGH - Math.min(Math.max(value, LOW), HIGH)) / (HIGH - LOW);
    const x = at => LEFT + (width - LEFT) * (1 - (end - at) / SPAN_S);
    scale(pen, width, y, colour, look);
    pen.save();
    pen.beginPath();
    pen.rect(LEFT, 0, width - LEFT, HEIGHT);
    pen.clip();
    pen.lineJoin = "round";
    pen.strokeStyle = colour("quiet");
    pen.lineWidth = 1.25;
    line(pen, time, speed, x, y);
    pen.strokeStyle = colour("ink");
    pen.lineWidth = 3;
    strokes.forEach(one => line(pen, one.t, one.v, x, y));
    pen.restore();
  }

  function scale(pen, width, y, colour, look) {
    const factor = table.scales[table.unit] || 1, step = factor > 2 ? 2 : 1;
    pen.font = `12px ${look.getPropertyValue("--font")}`;
    pen.textBaseline = "middle";
    pen.lineWidth = 1;
    const most = Math.floor(HIGH * factor);
    for (let shown = 0; shown <= most; shown += step * (factor > 3 ? 2 : 1)) {
      const at = Math.round(y(shown / factor)) + 0.5;
      pen.strokeStyle = colour(shown === 0 ? "faint" : "line");
      pen.beginPath();
      pen.moveTo(LEFT, at);
      pen.lineTo(width, at);
      pen.stroke();
      pen.fillStyle = colour("quiet");
      const label = shown === 0 ? table.unit : String(shown);
      pen.fillText(label, 0, Math.min(Math.max(at, 7), HEIGHT - 7));
    }
  }

  table.listeners.push(take);
  table.onStarted.push(() => { session = null; });
  window.addEventListener("resize", draw);
})();
