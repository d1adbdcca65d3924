// dom.ts: elements made from calls; no text ever becomes markup.

type Child = Node | string | null | undefined | false;
type Handler = (event: Event) => void;
export type Attributes = Record<string, string | number | boolean | Handler | null | undefined>;

const SVG = 'http://www.w3.org/2000/svg';

function fill(element: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) {
      continue;
    }
    if (typeof value === 'function') {
      element.addEventListener(name, value);
    } else {
      element.setAttribute(name, value === true ? '' : String(value));
    }
  }
  element.append(...children.filter((c): c is Node | string => c !== null && c !== undefined && c !== false));
}

export function h<K extends keyof HTMLElementTagNameMap>(
  tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  fill(element, attributes, children);
  return element;
}

export function s<K extends keyof SVGElementTagNameMap>(
  tag: K, attributes: Attributes = {}, ...children: Child[]): SVGElementTagNameMap[K] {
  const element = document.createElementNS(SVG, tag);
  fill(element, attributes, children);
  return element;
}

export function replace(parent: Element, ...children: Child[]): void {
  parent.replaceChildren(...children.filter((c): c is Node | string => c !== null && c !== undefined && c !== false));
}

/** the same, but children that are in place already are left alone */
export function arrange(parent: Element, wanted: (Element | null)[]): void {
  const children = wanted.filter((c): c is Element => c !== null);
  const same = parent.childNodes.length === children.length && children.every((c, i) => c === parent.childNodes[i]);
  if (!same) {
    const focused = document.activeElement;
    parent.replaceChildren(...children);
    if (focused instanceof HTMLElement && parent.contains(focused)) {
      focused.focus();
    }
  }
}

/** make `old` the same as `now`, of which pieces are taken, with as few changes as may be */
export function morph(old: Element, now: Element): void {
  for (const { name } of [...old.attributes]) {
    if (!now.hasAttribute(name)) {
      old.removeAttribute(name);
    }
  }
  for (const { name, value } of now.attributes) {
    if (old.getAttribute(name) !== value) {
      old.setAttribute(name, value);
    }
  }
  const before = [...old.childNodes], after = [...now.childNodes];
  before.slice(after.length).forEach((child) => child.remove());
  after.forEach((child, i) => {
    const was = before[i];
    if (!was) {
      old.append(child);
    } else if (was.nodeName !== child.nodeName) {
      was.replaceWith(child);
    } else if (was instanceof Element && child instanceof Element) {
      morph(was, child);
    } else if (was.nodeValue !== child.nodeValue) {
      was.nodeValue = child.nodeValue;
    }
  });
}

/** the path of a field, to be broken after a point or a low line if it must be broken */
export function path(text: string): (Node | string)[] {
  return text.split(/(?<=[._])/).flatMap((piece, i) => (i === 0 ? [piece] : [document.createElement('wbr'), piece]));
}

/** an SVG text from the server as an element of no document yet; null when it cannot be read */
export function parseSvg(text: string): SVGSVGElement | null {
  const root = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
  return root instanceof SVGSVGElement ? root : null;
}

/** path data through points; breaks where one is null */
export function pathOf(points: (readonly [number, number] | null)[], close = false): string {
  let d = '';
  let open = false;
  for (const p of points) {
    if (p === null) {
      open = false;
      continue;
    }
    d += `${open ? 'L' : 'M'}${p[0].toFixed(2)} ${p[1].toFixed(2)}`;
    open = true;
  }
  return close && d ? d + 'Z' : d;
}
