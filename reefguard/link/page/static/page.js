// Keeps the page of now, says loudly when it cannot, and shows the values at a moment one points at.
"use strict";
(() => {
  const EVERY_MS = 15000;
  const LOST_AFTER_MS = 40000;
  const WITHIN_MS = 8000;
  const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"];
  const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
  const by = (id) => document.getElementById(id);
  const two = (number) => String(number).padStart(2, "0");
  const clock = (date) => `${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}`;

  let heard = Date.now();
  let pastHeard = Date.now();
  let lost = false;
  let asking = false;

  async function fetched(address) {
    const answer = await fetch(address, {cache: "no-cache", signal: AbortSignal.timeout(WITHIN_MS)});
    if (!answer.ok) throw new Error(String(answer.status));
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  }

  function putIn(id, from) {
    const fresh = from.getElementById(id);
    if (!fresh) throw new Error(`no ${id}`);
    const old = by(id);
    const opened = [...old.querySelectorAll("details")].map((one) => one.open);
    const taken = document.importNode(fresh, true);
    taken.querySelectorAll("details").forEach((one, index) => { one.open = opened[index] === true; });
    old.replaceWith(taken);
    return taken;
  }

  function say(sentence) {
    if (by("spoken").textContent !== sentence) by("spoken").textContent = sentence;
  }

  function lose() {
    if (lost) return;
    lost = true;
    const now = by("now");
    document.body.classList.add("lost");
    by("lost-since").textContent =
      `What you see is from ${clock(new Date(heard))}` +
      (now.classList.contains("of-now") ? `; the water was ${now.dataset.shown} then.` : ".");
    by("lost").hidden = false;
    now.classList.replace("of-now", "of-then");
    now.querySelector(".water .value").textContent = "\u2013";
    const place = now.querySelector(".place strong");
    if (place) place.textContent = "not known";
    now.querySelector(".condition").className = "condition c-unknown";
    now.querySelector(".condition strong").textContent = "NOT LIVE";
    now.querySelector(".condition span").textContent = "this page has lost the tank";
    by("h-doing").textContent = "What it did then, and why";
    for (const use of now.querySelectorAll(".condition use, .place use")) use.setAttribute("href", "#s-unknown");
    document.title = `NOT LIVE - ${now.dataset.tank}`;
  }

  function found() {
    lost = false;
    document.body.classList.remove("lost");
    by("lost").hidden = true;
  }

  async function ask() {
    if (asking) return;
    asking = true;
    try {
      const now = putIn("now", await fetched("now"));
      heard = Date.now();
      found();
      document.title = now.dataset.title;
      say(now.dataset.spoken);
    } catch {
      lose();
    } finally {
      asking = false;
    }
  }

  async function askForPast() {
    const past = by("past");
    const every = Math.max(60, Number(past.dataset.fresh)) * 1000;
    if (lost || Date.now() - pastHeard < every || past.contains(document.activeElement)) return;
    pastHeard = Date.now();
    try {
      putIn("past", await fetched(`past?span=${encodeURIComponent(past.dataset.span)}`));
      pointing();
    } catch {
      // The page of now tells whether the tank is lost.
    }
  }

  function grow() {
    if (Date.now() - heard > LOST_AFTER_MS) lose();
    const age = by("age");
    if (!age || lost || !age.dataset.age) return;
    const seconds = Math.round(Number(age.dataset.age) + (Date.now() - heard) / 1000);
    if (seconds < 120) age.textContent = `measured ${seconds} s ago`;
  }

  function values(written) {
    let sum = 0;
    return written.split(",").map((one) => (one === "" ? null : (sum += Number(one)) / 100));
  }

  function shares(written) {
    return written.split(",").flatMap((one) => {
      const [share, count] = one.split("x");
      return Array(Number(count || 1)).fill(Number(share));
    });
  }

  function pointing() {
    const told = by("pointed");
    if (!told) return;
    const slider = by("moment");
    const reading = by("reading");
    const from = Number(told.dataset.from);
    const step = Number(told.dataset.step);
    const offsets = told.dataset.offsets.split(",").map((one) => one.split(":").map(Number));
    const lines = [...told.children].map((one) => ({
      name: one.dataset.name,
      unit: one.dataset.unit,
      values: one.dataset.values === undefined ? null : values(one.dataset.values),
      on: one.dataset.on === undefined ? null : shares(one.dataset.on),
    }));
    const count = Math.max(1, ...lines.map((one) => (one.values || one.on).length));
    const charts = [...document.querySelectorAll(".chart")].map((chart) => {
      const cross = document.createElement("div");
      cross.className = "cross";
      cross.hidden = true;
      cross.style.top = `${100 * chart.dataset.top}%`;
      cross.style.height = `${100 * (chart.dataset.bottom - chart.dataset.top)}%`;
      chart.append(cross);
      return {chart, cross, left: Number(chart.dataset.left), right: Number(chart.dataset.right)};
    });

    function name(place) {
      const offset = offsets.reduce((kept, [first, minutes]) => (first <= place ? minutes : kept), 0);
      const local = new Date((from + place * step + offset * 60) * 1000);
      const day = `${DAYS[local.getUTCDay()]} ${local.getUTCDate()} ${MONTHS[local.getUTCMonth()]}`;
      return `${day} ${two(local.getUTCHours())}:${two(local.getUTCMinutes())}`;
    }

    function said(line, place) {
      if (line.values) {
        const value = line.values[place];
        return `${line.name} ${value === null || value === undefined ? "\u2013" : `${value.toFixed(2)} ${line.unit}`}`;
      }
      const share = line.on[place] || 0;
      return `${line.name} ${share === 0 ? "off" : share >= 100 ? "on" : `on for ${share} %`}`;
    }

    function show(place) {
      const words = [name(place), ...lines.map((line) => said(line, place))];
      reading.replaceChildren(...words.map((word) => {
        const span = document.createElement("span");
        span.textContent = word;
        return span;
      }));
      slider.value = String(place);
      slider.setAttribute("aria-valuetext", words.join(", "));
      for (const {cross, left, right} of charts) {
        cross.hidden = false;
        cross.style.left = `${100 * (left + (right - left) * ((place + 0.5) / count))}%`;
      }
    }

    slider.max = String(count - 1);
    show(count - 1);
    for (const {cross} of charts) cross.hidden = true;
    slider.addEventListener("input", () => show(Number(slider.value)));
    for (const {chart, left, right} of charts) {
      const point = (event) => {
        const box = chart.getBoundingClientRect();
        const share = ((event.clientX - box.left) / box.width - left) / (right - left);
        show(Math.min(count - 1, Math.max(0, Math.floor(share * count))));
      };
      chart.addEventListener("pointerdown", point);
      chart.addEventListener("pointermove", point);
    }
    slider.closest(".pointing").hidden = false;
  }

  pointing();
  setInterval(ask, EVERY_MS);
  setInterval(askForPast, 5000);
  setInterval(grow, 1000);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) { grow(); ask(); }
  });
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) { lose(); ask(); }
  });
})();
