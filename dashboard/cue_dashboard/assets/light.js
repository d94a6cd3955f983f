// Pieces that are one component each, see components/light.py: plain HTML, and figures that are
// drawn one after another once the words of the page stand.
(function () {
  const CONFIG = { displayModeBar: false, displaylogo: false, showTips: false };
  // pages that draw at once: the library is read and made ready while the server works them out
  const DRAWING = ["/progress", "/pace", "/strokes"];
  let library = null;

  function drawing() {
    library = library || new Promise(function (resolve, reject) {
      if (window.Plotly) return resolve();
      const script = document.createElement("script");
      script.src = window._dashPlotlyJSURL;
      script.async = true;
      script.onload = resolve;
      script.onerror = function () { library = null; reject(new Error("no drawing library")); };
      document.head.appendChild(script);
    });
    return library;
  }

  // one figure at a time, and a picture of the page between two of them
  const waiting = [];
  let isBusy = false;

  function next() {
    const job = waiting.shift();
    isBusy = Boolean(job);
    if (!job) return;
    requestAnimationFrame(function () {
      setTimeout(function () {
        Promise.resolve(job()).catch(function (fault) { console.error(fault); }).finally(next);
      });
    });
  }

  function later(job) {
    waiting.push(job);
    if (!isBusy) next();
  }

  function draw(place, figure) {
    return drawing().then(function () {
      if (!place.isConnected) return;
      // the library writes into what it is given
      const own = structuredClone(figure);
      return window.Plotly.react(place, own.data, own.layout, { ...CONFIG, responsive: true });
    });
  }

  function Plot(props) {
    const { createElement, useEffect, useRef } = window.React;
    const place = useRef(null);
    useEffect(function () {
      let isWanted = true;
      later(function () { if (isWanted) return draw(place.current, props.figure); });
      return function () { isWanted = false; };
    }, [props.figure]);
    useEffect(function () {
      const drawn = place.current;
      return function () { if (window.Plotly && drawn.data) window.Plotly.purge(drawn); };
    }, []);
    const inner = createElement("div", { ref: place, style: { height: "100%", width: "100%" } });
    return createElement("div", { id: props.id, className: "dash-graph", style: props.style }, inner);
  }

  function element(tree) {
    if (!Array.isArray(tree)) return tree;
    const [tag, props, ...content] = tree;
    return window.React.createElement(tag, props, ...content.map(element));
  }

  function Still(props) {
    const { useMemo, useRef } = window.React;
    const n = useRef(0);
    const [tag, own, ...content] = props.tree;
    const shown = useMemo(function () { return content.map(element); }, [props.tree]);
    function press(event) {
      const button = event.target.closest("[data-press]");
      if (!button) return;
      n.current += 1;
      props.setProps({ pressed: { what: button.dataset.press, n: n.current } });
    }
    const named = props.id ? { id: props.id, onClick: press } : {};
    return window.React.createElement(tag, { ...own, ...named }, ...shown);
  }

  window.cue_dashboard = { Plot, Still };
  // by then stunpace.js has said where the library is
  document.addEventListener("DOMContentLoaded", function () {
    if (DRAWING.includes(window.location.pathname)) drawing().catch(function () {});
  });
})();
