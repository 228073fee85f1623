/* The questions beside the map: one panel at a time, chosen by tabs that the arrow keys go along. */

import { byId, make } from "./dom.js";

export class Tabs {
  /* panels: [[key, words, opened?]] */
  constructor(list, holder, panels) {
    this.panels = panels;
    this.tabs = panels.map(([key, words]) => make("button", { type: "button", role: "tab", id: `tab-${key}`,
      "aria-controls": `panel-${key}`, onclick: () => this.open(key), onkeydown: (event) => this.key(event) }, words));
    list.append(...this.tabs);
    panels.forEach(([key]) => holder.append(make("div", { role: "tabpanel", id: `panel-${key}`, class: "panel", tabindex: "0",
      "aria-labelledby": `tab-${key}` })));
    this.open(panels[0][0]);
  }

  open(key) {
    this.current = key;
    this.panels.forEach(([one], i) => {
      const is = one === key;
      this.tabs[i].setAttribute("aria-selected", String(is));
      this.tabs[i].tabIndex = is ? 0 : -1;
      byId(`panel-${one}`).hidden = !is;
    });
    const opened = this.panels.find(([one]) => one === key)[2];
    if (opened) opened();
  }

  key(event) {
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const count = this.tabs.length;
    const here = this.tabs.indexOf(event.target);
    const next = event.key === "Home" ? 0 : event.key === "End" ? count - 1 : step ? (here + step + count) % count : -1;
    if (next < 0) return;
    event.preventDefault();
    this.open(this.panels[next][0]);
    this.tabs[next].focus();
  }
}
