/* Making elements. Text from the job goes in as text nodes only: a name can never become markup. */

const SVG = "http://www.w3.org/2000/svg";

/* Keys that start with "on" are listeners, "class" and keys with a dash are attributes, null leaves out. */
export function make(tag, about = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(about)) {
    if (value === null || value === undefined) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key in element && !key.includes("-")) element[key] = value;
    else element.setAttribute(key, value);
  }
  element.append(...children.flat().filter((child) => child !== null && child !== undefined));
  return element;
}

export function draw(tag, about = {}, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [key, value] of Object.entries(about)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

export const byId = (id) => document.getElementById(id);

export const button = (words, onclick, about = {}) => make("button", { type: "button", onclick, ...about }, words);

/* Show `words` or hide the element. */
export function say(element, words) {
  if (element.textContent !== (words || "")) element.textContent = words || "";
  element.hidden = !words;
}

let numbered = 0;
export const newId = (stem) => `${stem}-${(numbered += 1)}`;
