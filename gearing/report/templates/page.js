"use strict";
// On paper the folded tables stand open.
const folded = () => document.querySelectorAll("details.more:not([open])");
addEventListener("beforeprint", () => folded().forEach((one) => { one.open = true; one.dataset.closed = ""; }));
addEventListener("afterprint", () => document.querySelectorAll("details[data-closed]").forEach((one) => {
  one.open = false;
  delete one.dataset.closed;
}));

// A table that is all in sight is no stop for the keyboard.
const scrollers = () => document.querySelectorAll(".scroll").forEach((one) => {
  one.tabIndex = one.scrollWidth > one.clientWidth ? 0 : -1;
});
addEventListener("resize", scrollers);
document.addEventListener("toggle", scrollers, true);
scrollers();

// Draws each chart in place of its still picture; without script the still picture stays.
(async () => {
  const specs = JSON.parse(document.getElementById("specs").textContent);
  const options = {
    actions: false,
    renderer: "svg",
    defaultStyle: false,
    tooltip: { disableDefaultStyle: true },
  };
  for (const [id, spec] of Object.entries(specs)) {
    const place = document.getElementById(id);
    try {
      await window.vegaEmbed(place, spec, options);
      place.parentElement.classList.add("drawn");
    } catch (error) {
      place.replaceChildren();
      console.error(id, error);
    }
    await new Promise((done) => setTimeout(done, 0)); // let the page breathe between charts
  }
  document.documentElement.dataset.charts = "drawn";
})();
