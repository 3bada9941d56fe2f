/* Looking closer: the find field, the hairline on strips and run charts. Every page is complete without it.
   Nothing is fetched, nothing is sent, and text of the data is only ever set as text. Nothing moves by itself. */
"use strict";

(function () {
  const SVG = "http://www.w3.org/2000/svg";
  const MOST_SHOWN = 200;
  const ZOOMS = [1, 2, 4, 8];
  const LETTERS = { "ß": "ss", "æ": "ae", "œ": "oe", "ø": "o", "đ": "d", "ð": "d", "ł": "l", "þ": "th", "ı": "i" };

  function make(parent, name, text, attributes) {
    const made = document.createElement(name);
    if (text) made.textContent = text;
    for (const key of Object.keys(attributes || {})) made.setAttribute(key, attributes[key]);
    parent.appendChild(made);
    return made;
  }

  function filled(words, values) {
    return words.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? values[name] : whole));
  }

  /* Small letters without accents, so that "Malmo" finds "Malmö". */
  function folded(text) {
    return text.toLowerCase().normalize("NFD").replace(/\p{M}/gu, "")
      .replace(/[ßæœøđðłþı]/g, (letter) => LETTERS[letter]);
  }

  /* The find field: all words, in any order, each anywhere in the entry. */
  function find(place, data) {
    const field = place.querySelector("input");
    const said = place.querySelector("[role=status]");
    const list = place.querySelector("ol");
    const register = document.getElementById("find-register");
    const entries = data.entries.map(([kind, text, href]) => ({ kind, text, href, words: null }));

    function words(entry) {
      if (entry.words === null) entry.words = folded(`${entry.text} ${data.kinds[entry.kind]}`);
      return entry.words;
    }

    function show() {
      const asked = folded(field.value).split(/\s+/).filter(Boolean);
      const found = asked.length ? entries.filter((one) => asked.every((word) => words(one).includes(word))) : [];
      list.replaceChildren();
      for (const one of found.slice(0, MOST_SHOWN)) {
        const item = make(list, "li");
        if (one.href) make(item, "a", one.text, { href: one.href });
        else make(item, "span", one.text);
        make(item, "span", ` ${data.kinds[one.kind]}`, { class: "note" });
      }
      register.hidden = asked.length > 0;
      const count = found.length === 0 ? "none" : found.length === 1 ? "one" : found.length > MOST_SHOWN ? "most" : "many";
      const values = { n: String(found.length), shown: String(MOST_SHOWN) };
      said.textContent = asked.length ? filled(data.said[count], values) : "";
    }

    function moved(event) {
      const links = [...list.querySelectorAll("a")];
      const at = links.indexOf(document.activeElement);
      if (event.key === "Escape") {
        field.value = "";
        show();
        field.focus();
      } else if (event.key === "ArrowDown" && links.length) {
        links[Math.min(at + 1, links.length - 1)].focus();
      } else if (event.key === "ArrowUp" && at >= 0) {
        (at === 0 ? field : links[at - 1]).focus();
      } else {
        return;
      }
      event.preventDefault();
    }

    place.hidden = false;
    field.addEventListener("input", show);
    place.addEventListener("keydown", moved);
    if (field.value) show();
  }

  /* The time of day on the site's wall clock, with its zone where asked for. */
  function clock(data, ms, isWhole) {
    const offset = data.offsets.filter(([from]) => from <= ms).pop() || data.offsets[0];
    const wall = new Date(data.from + ms + 1000 * offset[1]);
    return wall.toISOString().slice(11, data.places ? 22 : 19) + (isWhole ? ` ${offset[2]}` : "");
  }

  /* What each lane was doing at that instant, and what its log said last: of two that hold it the later one. */
  function told(data, ms) {
    return data.lanes.map((lane) => {
      const stretch = lane.spans.filter(([from, to]) => from <= ms && (ms < to || to === data.to)).pop();
      const said = (lane.said || []).filter(([at]) => at <= ms).pop();
      const last = said ? `, ${filled(data.words.said, { what: said[1], time: clock(data, said[0]) })}` : "";
      return `${lane.name}: ${stretch ? stretch[2] : lane.nothing}${last}`;
    });
  }

  /* A line across one picture, moved to a place of its own units. */
  function hairline(svg) {
    const line = document.createElementNS(SVG, "line");
    const [, top, , height] = (svg.getAttribute("viewBox") || "0 0 0 0").split(/[ ,]+/).map(Number);
    line.setAttribute("class", "hairline");
    line.setAttribute("y1", String(top));
    line.setAttribute("y2", String(top + height));
    svg.appendChild(line);
    return (x) => {
      line.setAttribute("x1", String(x));
      line.setAttribute("x2", String(x));
    };
  }

  /* Where a pointer is, in the units of the picture. */
  function unitsAt(svg, event) {
    const box = svg.getBoundingClientRect();
    return (event.clientX - box.left) * (svg.viewBox.baseVal.width / box.width) + svg.viewBox.baseVal.x;
  }

  function control(place, words, most, step) {
    const bar = make(place, "div", "", { class: "look", role: "group", "aria-label": words.label });
    const slider = make(bar, "input", "", {
      type: "range", min: "0", max: String(most), step: String(step), value: "0", "aria-label": words.slider,
    });
    const said = make(place, "p", "", { class: "readout small", role: "status" });
    return { bar, slider, said };
  }

  /* The strip: a hairline at an instant, and below it in words what each lane was doing then. */
  function strip(place, data) {
    const pictures = [...place.querySelectorAll("svg[data-left]")].map((svg) => ({
      svg, move: hairline(svg), left: Number(svg.dataset.left), right: Number(svg.dataset.right),
    }));
    const most = data.to;
    const { bar, slider, said } = control(place, data.words, most, 1);
    const changes = [...new Set(data.lanes.flatMap((lane) => lane.spans.flatMap(([from, to]) => [from, to])))]
      .filter((ms) => ms > 0 && ms < most).sort((one, other) => one - other);
    let zoom = 0;

    function at(ms) {
      const here = Math.min(Math.max(Math.round(ms), 0), most);
      slider.value = String(here);
      const time = clock(data, here, true);
      slider.setAttribute("aria-valuetext", time);
      for (const one of pictures) one.move(one.left + (here / most) * (one.right - one.left));
      said.textContent = `${time}. ${told(data, here).join("; ")}.`;
    }

    function centre() {
      for (const { svg } of pictures) {
        const box = svg.closest(".scroll");
        if (box) box.scrollLeft = (Number(slider.value) / most) * svg.getBoundingClientRect().width - box.clientWidth / 2;
      }
    }

    function zoomed(by) {
      zoom = Math.min(Math.max(zoom + by, 0), ZOOMS.length - 1);
      for (const { svg } of pictures) {
        for (const size of ZOOMS) svg.classList.toggle(`zoom-${size}`, size > 1 && size === ZOOMS[zoom]);
      }
      slider.step = String(step());
      centre();
    }

    function step() {
      return Math.max(1, Math.round(most / 400 / ZOOMS[zoom]));
    }

    function jump(direction) {
      const here = Number(slider.value);
      const next = direction > 0 ? changes.find((ms) => ms > here) : changes.filter((ms) => ms < here).pop();
      at(next === undefined ? (direction > 0 ? most : 0) : next);
      centre();
    }

    const buttons = [
      [data.words.before, () => jump(-1)], [data.words.after, () => jump(1)],
      [data.words.larger, () => zoomed(1)], [data.words.smaller, () => zoomed(-1)],
    ];
    for (const [words, act] of buttons) make(bar, "button", words, { type: "button" }).addEventListener("click", act);
    bar.addEventListener("keydown", (event) => {
      const by = { "+": 1, "-": -1 }[event.key];
      if (by) zoomed(by);
    });
    /* The slider's own step would round what is between; the arrow keys go by what one can see. */
    slider.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1, PageUp: 20, PageDown: -20 }[event.key];
      if (by) {
        event.preventDefault();
        at(Number(slider.value) + by * step());
        centre();
      }
    });
    slider.addEventListener("input", () => at(Number(slider.value)));
    for (const { svg, left, right } of pictures) {
      svg.addEventListener("pointermove", (event) => at(((unitsAt(svg, event) - left) / (right - left)) * most));
    }
    slider.step = "1";
    at(data.start);
  }

  /* The run chart: from point to point, each with its month, value and limits in words. */
  function run(place, data) {
    const svg = place.querySelector("svg");
    const marks = [...svg.querySelectorAll("[data-point]")];
    const move = hairline(svg);
    const most = data.points.length - 1;
    const { slider, said } = control(place, data.words, most, 1);
    const origin = svg.getBoundingClientRect();
    const scale = svg.viewBox.baseVal.width / (origin.width || 1);
    const places = data.points.map((_, number) => {
      const mark = marks.find((one) => Number(one.dataset.point) === number);
      if (!mark) return null;
      const box = mark.getBoundingClientRect();
      return (box.left + box.width / 2 - origin.left) * scale + svg.viewBox.baseVal.x;
    });

    function at(number) {
      const here = Math.min(Math.max(number, 0), most);
      slider.value = String(here);
      slider.setAttribute("aria-valuetext", data.points[here]);
      if (places[here] !== null) move(places[here]);
      said.textContent = data.points[here];
    }

    svg.addEventListener("pointermove", (event) => {
      const x = unitsAt(svg, event);
      const known = places.map((place_, number) => [place_, number]).filter(([place_]) => place_ !== null);
      known.sort((one, other) => Math.abs(one[0] - x) - Math.abs(other[0] - x));
      if (known.length) at(known[0][1]);
    });
    slider.addEventListener("input", () => at(Number(slider.value)));
    at(data.start);
  }

  /* Places that carry data of their own; a page that has none is left as it is. */
  function each(name, act) {
    for (const place of document.querySelectorAll(`[data-${name}]`)) act(place, JSON.parse(place.dataset[name]));
  }

  document.addEventListener("DOMContentLoaded", () => {
    const place = document.getElementById("find");
    if (place && window.airhoursFind) find(place, window.airhoursFind);
    each("strip", strip);
    each("run", run);
  });
})();
