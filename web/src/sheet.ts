// sheet.ts: the section drawing: parts to hover and click, and the touch in slow motion.
import { h, parseSvg, replace, s } from './dom';
import { show } from './format';
import type { Measure } from './types';
import type { Store } from './store';

const PX_PER_MM = 96 / 25.4;

export class Section {
  readonly element = h('div', { class: 'section-view' });
  private paper = h('div', { class: 'paper-holder' });
  private readout = h('p', { class: 'part-readout', 'aria-live': 'polite' });
  private slider = h('input', { type: 'range', min: 0, max: 1000, value: 0, 'aria-label': 'progress of the touch' });
  private play = h('button', { type: 'button' }, 'Play a touch');
  private motionText = h('span', { class: 'motion-text', role: 'status' });
  private drawn = '';
  private frame = 0;

  constructor(private readonly store: Store, private readonly pick: (group: string) => void) {
    const motion = h('div', { class: 'motion no-print' }, this.play, this.slider, this.motionText);
    this.element.append(this.paper, this.readout);
    if (!store.source.report) {
      this.element.append(motion);
    }
    this.slider.addEventListener('input', () => this.move(Number(this.slider.value) / 1000));
    this.play.addEventListener('click', () => (this.frame ? this.stop() : this.start()));
    this.paper.addEventListener('click', (e) => this.choose(e.target));
    this.paper.addEventListener('keydown', (e) => {
      if (e.key === 'Enter' || e.key === ' ') {
        if (this.choose(e.target)) {
          e.preventDefault();
        }
      }
    });
    for (const name of ['pointerover', 'focusin']) {
      this.paper.addEventListener(name, (e) => this.tell(e.target));
    }
    for (const name of ['pointerout', 'focusout']) {
      this.paper.addEventListener(name, () => this.lift(null));
    }
  }

  /** the sheet that fills this view, in mm of paper */
  measure(): void {
    const width = this.paper.clientWidth;
    if (width > 0) {
      const mm = Math.floor(width / PX_PER_MM);
      const height = Math.min(Math.max(212, Math.floor((window.innerHeight - 170) / PX_PER_MM)), 260);
      this.store.setSheet(mm, height);
    }
  }

  draw(): void {
    const text = this.store.evaluation?.drawing;
    if (!text) {
      if (!this.drawn) {
        replace(this.paper, h('p', { class: 'empty' }, this.store.phase === 'failed' ? '' : 'Drawing…'));
      }
      return;
    }
    if (text === this.drawn) {
      return;
    }
    const focused = document.activeElement?.getAttribute('data-part');
    const svg = parseSvg(text);
    if (svg) {
      this.drawn = text;
      replace(this.paper, svg);
      if (focused) {
        svg.querySelector<SVGElement>(`.part[data-part="${focused}"]`)?.focus();
      }
      this.move(Number(this.slider.value) / 1000);
    }
  }

  private partOf(target: EventTarget | null): Element | null {
    return target instanceof Element ? target.closest('.part, .label') : null;
  }

  private named(part: string): Element | null {
    return this.paper.querySelector(`.part[data-part="${part}"]`);
  }

  private nameOf(element: Element): string {
    return element.getAttribute('data-part') ?? element.getAttribute('data-label') ?? '';
  }

  private choose(target: EventTarget | null): boolean {
    const element = this.partOf(target);
    const part = element ? this.named(this.nameOf(element)) : null;
    const group = part?.getAttribute('data-fields');
    if (group && !this.store.source.report) {
      this.pick(group);
      return true;
    }
    return false;
  }

  private lift(name: string | null): void {
    for (const e of this.paper.querySelectorAll('.lifted')) {
      e.classList.remove('lifted');
    }
    if (name) {
      this.named(name)?.classList.add('lifted');
      this.paper.querySelector(`.label[data-label="${name}"]`)?.classList.add('lifted');
    } else {
      this.readout.textContent = '';
    }
  }

  private tell(target: EventTarget | null): void {
    const element = this.partOf(target);
    if (element) {
      const name = this.nameOf(element);
      this.lift(name);
      this.readout.textContent = this.named(name)?.getAttribute('aria-label') ?? '';
    }
  }

  // ---- slow motion ------------------------------------------------------------------------------

  private stop(): void {
    cancelAnimationFrame(this.frame);
    this.frame = 0;
    this.play.textContent = 'Play a touch';
  }

  private start(): void {
    const began = performance.now();
    this.play.textContent = 'Stop';
    const step = (now: number): void => {
      const t = Math.min(1, (now - began) / 6000);
      this.slider.value = String(Math.round(1000 * t));
      this.move(t);
      if (t < 1) {
        this.frame = requestAnimationFrame(step);
      } else {
        this.stop();
      }
    };
    this.frame = requestAnimationFrame(step);
  }

  private travel(): { rotation: number; stem: number; whole: number } | null {
    const m: Measure | undefined = this.store.evaluation?.check.measures['pretravel_side'];
    if (!m || typeof m.value !== 'number') {
      return null;
    }
    const of = (word: string): number => m.contributions.find((c) => c.cause.includes(word))?.value ?? 0;
    return { rotation: of('rotation'), stem: of('stem'), whole: m.value };
  }

  /** share of the pretravel at a time 0..1: there, a little past the trip, and back */
  private static push(t: number): number {
    return t < 0.1 ? 0 : t < 0.6 ? (t - 0.1) / 0.5 : t < 0.7 ? 1 + (t - 0.6) : t < 0.95 ? 1.1 * (1 - (t - 0.7) / 0.25) : 0;
  }

  private move(t: number): void {
    const moving = this.paper.querySelector<SVGElement>('.moving');
    const travel = this.travel();
    const svg = this.paper.querySelector('svg');
    if (!moving || !travel || !svg) {
      this.motionText.textContent = travel || !this.store.evaluation ? '' : 'no sideways trip to show';
      return;
    }
    const x = Number(moving.getAttribute('data-turn-x'));
    const y = Number(moving.getAttribute('data-turn-y'));
    const scale = Number(moving.getAttribute('data-scale'));
    const tip = this.paper.querySelector('.part[data-part="ball"] circle');
    const arm = tip ? Number(tip.getAttribute('cy')) - y : 100;
    const share = Section.push(t);
    /* the tip moves 12 mm of paper at the trip, whatever it moves in truth */
    const shown = 12 / (travel.whole * 1000 * scale);
    const factor = Number(shown.toPrecision(1));
    const angle = (share * travel.whole * 1000 * scale * factor) / arm;
    moving.setAttribute('transform', share ? `rotate(${((-angle * 180) / Math.PI).toFixed(3)} ${x} ${y})` : '');
    this.bend(svg, (angle * travel.rotation) / travel.whole);
    this.motionText.textContent = this.sentence(t, share, travel.whole, factor);
  }

  private sentence(t: number, share: number, whole: number, factor: number): string {
    const now = show(Math.min(share, 1) * whole, 'm', this.store.system);
    const what = t < 0.1 ? 'at rest' : t < 0.6 ? `pushed ${now} at the tip` : t < 0.7 ? `tripped after ${show(whole, 'm', this.store.system)}, running on`
      : share > 0 ? 'drawing back' : 'back at rest';
    return `${what}; movement drawn ${factor.toLocaleString('en')} times`;
  }

  /** the disc's tilt and bend as one line over it, in the same exaggeration */
  private bend(svg: SVGSVGElement, angle: number): void {
    svg.querySelector('.motion-disc')?.remove();
    const disc = this.paper.querySelector<SVGGraphicsElement>('.part[data-part="disc"]');
    if (!disc || angle <= 0) {
      return;
    }
    /* the carrier's turn lifts the disc by contact radius x angle; a plate held at its rim follows
     * with a shape that vanishes at centre and rim */
    const box = disc.getBBox();
    const half = box.width / 2;
    const contact = Number(this.paper.querySelector('.moving')?.getAttribute('data-contact')) / half;
    const u0 = Math.min(0.9, Math.max(0.1, contact));
    const lift = (contact * half * angle) / (u0 * (1 - u0 * u0));
    let d = '';
    for (let i = -20; i <= 20; i++) {
      const u = i / 20;
      d += `${i === -20 ? 'M' : 'L'}${(box.x + half + u * half).toFixed(2)} ${(box.y + box.height / 2 + lift * u * (1 - u * u)).toFixed(2)}`;
    }
    svg.append(s('path', { d, class: 'motion-disc', 'aria-hidden': 'true' }));
  }
}
