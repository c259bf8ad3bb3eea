/* Nodes: making and changing them. Text goes in as text alone, never as markup. */

export function h(tag, props = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(props)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "class") node.className = value;
    else if (name === "text") node.textContent = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.flat().filter((one) => one !== null && one !== undefined && one !== false));
  return node;
}

/* Touch the page only where something changed: a thousand unchanged texts a second cost nothing. */
export function setText(node, text) {
  if (node.said === text) return false;
  node.said = text;
  node.textContent = text;
  return true;
}

export function setAttr(node, name, value) {
  if (value === null || value === undefined || value === false) {
    if (node.hasAttribute(name)) node.removeAttribute(name);
  } else {
    const text = value === true ? "" : String(value);
    if (node.getAttribute(name) !== text) node.setAttribute(name, text);
  }
}

export function setHidden(node, hidden) {
  if (node.hidden !== hidden) node.hidden = hidden;
}

/* Keep one node for each key, in this order; make what is new, drop what is gone. */
export function keep(parent, known, items, keyOf, make, update) {
  const wanted = new Set(items.map(keyOf));
  // What is gone leaves first: a node that is moved about would lose the keyboard.
  for (const [key, one] of known) {
    if (wanted.has(key)) continue;
    one.node.remove();
    one.gone?.();
    known.delete(key);
  }
  const held = document.activeElement;
  let next = parent.firstChild;
  for (const item of items) {
    const key = keyOf(item);
    let one = known.get(key);
    if (!one) {
      one = make(item);
      known.set(key, one);
    }
    update(one, item);
    if (next === one.node) next = next.nextSibling;
    else parent.insertBefore(one.node, next);
  }
  if (held !== document.activeElement && held?.isConnected) held.focus({ preventScroll: true });
}

/* What this browser remembers; where it may not, the page works all the same. */
export function remembered(name) {
  try {
    return localStorage.getItem(`cakewatch.${name}`) || "";
  } catch {
    return "";
  }
}

export function remember(name, value) {
  try {
    if (value) localStorage.setItem(`cakewatch.${name}`, value);
    else localStorage.removeItem(`cakewatch.${name}`);
  } catch {
    /* it is asked again next time */
  }
}

const SVG = "http://www.w3.org/2000/svg";

/* A sign from the sheet of signs in the page; the word beside it says the same. */
export function sign(name, extra = "") {
  const svg = document.createElementNS(SVG, "svg");
  svg.setAttribute("class", `sign ${extra}`);
  svg.setAttribute("viewBox", "0 0 24 24");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  svg.append(use);
  svg.show = (which) => setAttr(use, "href", `#s-${which}`);
  svg.show(name);
  return svg;
}

/* A canvas as sharp as the screen; answers its size in CSS pixels. */
export function fit(canvas) {
  const width = canvas.clientWidth;
  const height = canvas.clientHeight;
  const ratio = Math.min(3, window.devicePixelRatio || 1);
  const across = Math.round(width * ratio);
  const down = Math.round(height * ratio);
  if (canvas.width !== across || canvas.height !== down) {
    canvas.width = across;
    canvas.height = down;
  }
  const ink = canvas.getContext("2d");
  ink.setTransform(ratio, 0, 0, ratio, 0, 0);
  ink.clearRect(0, 0, width, height);
  return { ink, width, height };
}

/* A sentence at the foot of the page, long enough to be read. */
let toastTimer = null;

export function toast(text, isBad = false) {
  const box = document.getElementById("toast");
  clearTimeout(toastTimer);
  box.hidden = false;
  box.className = isBad ? "bad" : "";
  box.textContent = text;
  toastTimer = setTimeout(() => {
    box.hidden = true;
  }, Math.max(5000, text.length * 90));
}
