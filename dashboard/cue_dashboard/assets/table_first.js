// A stroke's pace as soon as it can be told: a first look, then the final one until the card has it.
//
// Shown only: what is spoken, sounded and heard by screen readers is the card's, and that is final.
(function () {
  const GIVE_UP_MS = 2000;
  const table = window.stunpaceTable;
  let first = null, nBefore = null, givingUp = 0;

  function take(answer) {
    const isFinal = nBefore !== null && answer.n > nBefore;
    nBefore = answer.n === undefined ? null : answer.n;
    if (isFinal) {
      first = null;
      if (answer.stroke) show(answer.stroke.pace, true);
      window.clearTimeout(givingUp);
      givingUp = window.setTimeout(hide, GIVE_UP_MS);
    } else if (answer.first !== undefined) {
      if (answer.first !== first) show(answer.first, false);
      first = answer.first;
    } else if (first !== null) hide();  // it was no stroke after all
  }

  function show(pace, isFinal) {
    const look = document.getElementById("table-first-look");
    if (!look) return;
    window.clearTimeout(givingUp);
    givingUp = 0;
    look.querySelector(".pace-number").textContent =
      (pace * (table.scales[table.unit] || 1)).toFixed(table.digits[table.unit] || 0);
    look.querySelector(".pace-unit").textContent = table.unit;
    look.classList.toggle("final", isFinal);
    put(false);
  }

  function hide() {
    window.clearTimeout(givingUp);
    first = null;
    givingUp = 0;
    put(true);
  }

  function put(isHidden) {
    window.dash_clientside.set_props("table-first-look", { hidden: isHidden });
    const card = document.getElementById("table-pace-card");
    if (card) card.classList.toggle("looking", !isHidden);
  }

  // the card is drawn anew once it has the stroke
  new MutationObserver(changes => {
    if (givingUp && changes.some(one => one.target.closest("#table-pace"))) hide();
  }).observe(document.documentElement, {
    subtree: true, childList: true, attributes: true, attributeFilter: ["data-stroke", "data-n"],
  });

  table.listeners.push(take);
  table.onStarted.push(() => { first = nBefore = null; window.clearTimeout(givingUp); givingUp = 0; });
})();
