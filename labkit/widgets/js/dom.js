// Elements by name; every control keeps its keys from the notebook's shortcuts.

const SVG = "http://www.w3.org/2000/svg";
const CONTROLS = new Set(["input", "button", "select", "textarea", "summary"]);

function h(tag, props = {}, ...children) {
  const element = document.createElement(tag);
  if (CONTROLS.has(tag)) element.setAttribute("data-lm-suppress-shortcuts", "true");
  if (tag === "button") element.type = "button";
  for (const [name, value] of Object.entries(props)) setProp(element, name, value);
  element.append(...children.filter((child) => child !== null && child !== undefined));
  return element;
}

function setProp(element, name, value) {
  if (name === "on") {
    for (const [event, act] of Object.entries(value)) element.addEventListener(event, act);
  } else if (name === "class") {
    element.className = value;
  } else if (name === "text") {
    element.textContent = value;
  } else if (value === true) {
    element.setAttribute(name, "");
  } else if (value !== false && value !== null && value !== undefined) {
    element.setAttribute(name, value);
  }
}

function svg(tag, props = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(props)) element.setAttribute(name, value);
  element.append(...children);
  return element;
}

const ICONS = {
  back: "M6 3 2.5 6.5 6 10M3 6.5h6a3.5 3.5 0 0 1 0 7H6",
  forth: "M9 3l3.5 3.5L9 10M12 6.5H6a3.5 3.5 0 0 0 0 7h3",
  plus: "M7.5 3v9M3 7.5h9",
  cross: "M4 4l7 7M11 4l-7 7",
  up: "M7.5 12V3M4 6.5 7.5 3 11 6.5",
  down: "M7.5 3v9M4 8.5 7.5 12 11 8.5",
  fold: "M5.5 4l4 3.5-4 3.5",
  stop: "M5 1.8h5L13.2 5v5L10 13.2H5L1.8 10V5zM7.5 4.5v3.6M7.5 10.4v.1",
  check: "M7.5 2 13.5 12.8h-12zM7.5 6v3.4M7.5 11v.1",
  fyi: "M7.5 1.8a5.7 5.7 0 1 0 0 11.4 5.7 5.7 0 0 0 0-11.4zM7.5 6.8v3.6M7.5 4.5v.1",
};

function icon(name) {
  const picture = svg("svg", { viewBox: "0 0 15 15", class: "lk-icon", "aria-hidden": "true" });
  picture.append(svg("path", { d: ICONS[name] }));
  return picture;
}

// The text node is kept: one that is put in anew makes the whole page look at its styles.
function setText(element, text) {
  const node = element.firstChild;
  if (node && node === element.lastChild && node.nodeType === Node.TEXT_NODE) {
    if (node.data !== text) node.data = text;
  } else if (element.textContent !== text) {
    element.textContent = text;
  }
}

// A share in a column that is aligned on the decimal sign.
function setShare(element, text) {
  setText(element, text);
  element.dataset.places = places(text);
}

function setAttr(element, name, value) {
  if (value === null || value === false) {
    if (element.hasAttribute(name)) element.removeAttribute(name);
  } else if (element.getAttribute(name) !== String(value)) {
    element.setAttribute(name, value);
  }
}

function debounce(act, ms) {
  let timer = null;
  const later = (...args) => {
    clearTimeout(timer);
    timer = setTimeout(() => { timer = null; act(...args); }, ms);
  };
  later.cancel = () => clearTimeout(timer);
  return later;
}

// However often it is asked for, it is done once, in the next frame.
function oncePerFrame(act) {
  let asked = false;
  return () => {
    if (asked) return;
    asked = true;
    requestAnimationFrame(() => { asked = false; act(); });
  };
}

const AROUND = ".jp-OutputArea-child, .jp-OutputArea-output, .jp-OutputArea, .jp-Cell-outputWrapper, .jp-Cell-outputArea";

// What the notebook wraps around a sheet must not clip it: its parts stay in sight while
// the page scrolls. A class, not a :has() rule, which would be asked at every change.
function openAround(element) {
  for (let around = element.parentElement; around; around = around.parentElement) {
    if (around.matches(AROUND)) around.classList.add("lk-around");
  }
}

// The still picture beside a live widget stands aside while the widget is shown.
function hideAside(id) {
  if (!id || document.getElementById(`lk-aside-${id}`)) return;
  const mark = `.lk-aside[data-sheet="${id}"]`;
  const rule = `${mark}, .jp-OutputArea-child:has(${mark}) { display: none !important; }`;
  document.head.append(h("style", { id: `lk-aside-${id}`, text: rule }));
}
