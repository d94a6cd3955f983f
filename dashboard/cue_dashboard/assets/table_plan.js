// At the table: the mark of a tap on the plan stands at once; the server's drawing confirms it.
//
// How a mark looks and where one can be comes with the plan (pages/table_show.py), so that what is
// drawn here and what the server draws over it a moment later is the same.
(function () {
  const table = window.stunpaceTable;
  const replaced = new Map();  // by tap: the mark that its own stands for
  const nearest = (value, [low, high]) => Math.min(Math.max(value, low), high);

  function plan() {
    const drawn = document.querySelector("#table-plan .js-plotly-plot");
    return drawn && drawn.layout && drawn.layout.meta && window.Plotly ? drawn : null;
  }

  // as figures/plan.py has it: a ball lies on the table, or meets the nearest cushion
  function place(kind, [x, y], { across, up }) {
    const on = [nearest(x, across), nearest(y, up)];
    if (kind !== "cushion") return on;
    const places = [...across.map(edge => [edge, on[1]]), ...up.map(edge => [on[0], edge])];
    const way = ([a, b]) => Math.abs(a - on[0]) + Math.abs(b - on[1]);
    return places.reduce((best, one) => (way(one) < way(best) ? one : best));
  }

  table.mark = function (tap) {
    const drawn = plan();
    if (!drawn || tap.what !== "plan" || !tap.point) return;
    const { marks, room } = drawn.layout.meta, [x, y] = place(tap.kind, tap.point, room);
    const isLeft = x < (room.across[0] + room.across[1]) / 2;
    const mark = { ...structuredClone(marks[tap.kind][isLeft ? 0 : 1]), x: [x], y: [y], uid: tap.id };
    replaced.set(tap.id, drawn.data.filter(one => one.name === mark.name));
    const others = drawn.data.filter(one => one.name !== mark.name);
    window.Plotly.react(drawn, [...others, mark], drawn.layout);
  };

  // refused: what was there before, unless the server has drawn another plan meanwhile
  table.answered = function (id, isKept) {
    const drawn = plan(), before = replaced.get(id);
    replaced.delete(id);
    if (isKept || !before || !drawn || !drawn.data.some(one => one.uid === id)) return;
    const data = drawn.data.flatMap(one => (one.uid === id ? before : [one]));
    window.Plotly.react(drawn, data, drawn.layout);
  };
})();
