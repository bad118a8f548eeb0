// Buttons of the page change what the element shows.
const whole = document.querySelector("#whole");
for (const button of document.querySelectorAll("[data-left]")) {
  button.addEventListener("click", () => { whole.view = { ...button.dataset, compare: "swipe" }; });
}
