// The links that a phone folds away: Escape and a tap elsewhere fold them again.
(function () {
  function fold(event) {
    const open = document.querySelector("details.more[open]");
    if (!open || (event.type === "click" && open.contains(event.target))) return;
    if (event.type === "keydown" && event.key !== "Escape") return;
    const hadFocus = open.contains(document.activeElement);
    open.open = false;
    if (hadFocus && event.type === "keydown") open.querySelector("summary").focus();
  }
  document.addEventListener("click", fold);
  document.addEventListener("keydown", fold);
})();
