// sheet.ts: the section drawing: parts to hover and click, and the touch in slow motion.
import { h, morph, parseSvg, replace, s } from './dom';
import { show } from './format';
import type { Measure } from './types';
import type { Shade } from './source';
import type { Store } from './store';

const PX_PER_MM = 96 / 25.4;
/** how far the tip moves on the paper at the trip */
const SIDE_MM = 12, AXIAL_MM = 6;

/** what the page knows of a touch: all of it at the trip, and of that what turns or lifts the carrier */
interface Travel { axial: boolean; rotation: number; lift: number; whole: number }

export class Section {
  readonly element = h('div', { class: 'section-view' });
  private paper = h('div', { class: 'paper-holder' });
  private readout = h('p', { class: 'part-readout', 'aria-live': 'polite' });
  private slider = h('input', { type: 'range', min: 0, max: 1000, value: 0, 'aria-label': 'progress of the touch' });
  private play = h('button', { type: 'button' }, 'Play a touch');
  private direction = h('select', { 'aria-label': 'direction of the touch' },
    h('option', { value: 'side' }, 'sideways'), h('option', { value: 'axial' }, 'along the axis'));
  private shade = h('select', {},
    h('option', { value: 'none' }, 'nothing'), h('option', { value: 'charge' }, 'charge of a push'), h('option', { value: 'stress' }, 'stress of a push'));
  private motionText = h('span', { class: 'motion-text', role: 'status' });
  private drawn = '';
  private displaced = false;
  private frame = 0;

  constructor(private readonly store: Store, private readonly pick: (group: string) => void) {
    const motion = h('div', { class: 'motion no-print' }, this.play, this.direction, this.slider, this.motionText,
      h('label', { class: 'shade-choice' }, 'shade the disc by ', this.shade));
    this.element.append(this.paper, this.readout);
    if (!store.source.report) {
      this.element.append(motion);
    }
    this.slider.addEventListener('input', () => this.move(Number(this.slider.value) / 1000));
    this.direction.addEventListener('change', () => this.move(Number(this.slider.value) / 1000));
    this.shade.addEventListener('change', () => this.store.setShade(this.shade.value as Shade));
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
    const svg = parseSvg(text);
    if (svg) {
      this.drawn = text;
      this.rest();
      this.take(svg);
      this.move(Number(this.slider.value) / 1000);
    }
  }

  /** the new drawing in place of the old one: piece by piece where it shows the same parts */
  private take(svg: SVGSVGElement): void {
    const old = this.paper.querySelector('svg');
    const partsOf = (drawing: SVGSVGElement): string =>
      [...drawing.querySelectorAll('[data-part]')].map((e) => e.getAttribute('data-part')).join();
    if (old && partsOf(old) === partsOf(svg)) {
      morph(old, svg);
      return;
    }
    const focused = document.activeElement?.getAttribute('data-part');
    replace(this.paper, svg);
    if (focused) {
      svg.querySelector<SVGElement>(`.part[data-part="${focused}"]`)?.focus();
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

  private travel(): Travel | null {
    const axial = this.direction.value === 'axial';
    const m: Measure | undefined = this.store.evaluation?.check.measures[axial ? 'pretravel_axial' : 'pretravel_side'];
    if (!m || typeof m.value !== 'number') {
      return null;
    }
    const of = (word: string): number => m.contributions.find((c) => c.cause.includes(word))?.value ?? 0;
    /* without its parts all of it counts as the carrier's */
    return { axial, rotation: of('rotation'), lift: m.contributions.length ? of('translation') : m.value, whole: m.value };
  }

  /** share of the pretravel at a time 0..1: there, a little past the trip, and back */
  private static push(t: number): number {
    return t < 0.1 ? 0 : t < 0.6 ? (t - 0.1) / 0.5 : t < 0.7 ? 1 + (t - 0.6) : t < 0.95 ? 1.1 * (1 - (t - 0.7) / 0.25) : 0;
  }

  private move(t: number): void {
    const moving = this.paper.querySelector<SVGElement>('.moving');
    const travel = this.travel();
    const svg = this.paper.querySelector('svg');
    this.rest();
    if (!moving || !travel || !svg) {
      this.motionText.textContent = travel || !this.store.evaluation ? '' : `no trip ${this.direction.value === 'axial' ? 'along the axis' : 'sideways'} to show`;
      return;
    }
    const scale = Number(moving.getAttribute('data-scale'));
    const share = Section.push(t);
    this.displaced = share > 0;
    /* the tip moves so far on the paper at the trip, whatever it moves in truth */
    const shown = (travel.axial ? AXIAL_MM : SIDE_MM) / (travel.whole * 1000 * scale);
    const factor = Number(shown.toPrecision(1));
    const tip = share * travel.whole * 1000 * scale * factor;
    if (!this.displaced) {
      /* it rests as it is drawn */
    } else if (travel.axial) {
      this.push(moving, svg, tip, travel.lift / travel.whole);
    } else {
      this.turn(moving, svg, tip, travel.rotation / travel.whole);
    }
    this.motionText.textContent = this.sentence(t, share, travel, factor);
  }

  private rest(): void {
    if (this.displaced) {
      this.displaced = false;
      for (const e of this.paper.querySelectorAll('.moving, .moving .part')) {
        e.removeAttribute('transform');
      }
      this.paper.querySelector('.motion-disc')?.remove();
    }
  }

  /** sideways: the carrier turns about its point, by as much as the tip moves */
  private turn(moving: SVGElement, svg: SVGSVGElement, tip: number, share: number): void {
    const x = Number(moving.getAttribute('data-turn-x')), y = Number(moving.getAttribute('data-turn-y'));
    const ball = this.paper.querySelector('.part[data-part="ball"] circle');
    const arm = ball ? Number(ball.getAttribute('cy')) - y : 100;
    const angle = tip / arm;
    moving.setAttribute('transform', `rotate(${((-angle * 180) / Math.PI).toFixed(3)} ${x} ${y})`);
    const contact = this.contact(moving);
    const u0 = Math.min(0.9, Math.max(0.1, contact.share));
    /* the carrier's turn lifts the disc by contact radius x angle; a plate held at its rim follows
     * with a shape that vanishes at centre and rim */
    const lift = (contact.radius * angle * share) / (u0 * (1 - u0 * u0));
    this.bend(svg, lift, (u) => u * (1 - u * u));
  }

  /** along the axis: the carrier's share of the travel lifts it, the rest shortens stem and tip */
  private push(moving: SVGElement, svg: SVGSVGElement, tip: number, share: number): void {
    moving.setAttribute('transform', `translate(0 ${(-tip * share).toFixed(3)})`);
    const stem = this.paper.querySelector<SVGGraphicsElement>('.moving .part[data-part="stem"]');
    const ball = this.paper.querySelector<SVGElement>('.moving .part[data-part="ball"]');
    const outline = stem?.querySelector<SVGGraphicsElement>('.outline');
    const rest = tip * (1 - share);
    if (stem && ball && outline && rest > 0) {
      const box = outline.getBBox();
      const k = 1 - Math.min(rest, 0.8 * box.height) / box.height;
      stem.setAttribute('transform', `translate(0 ${(box.y * (1 - k)).toFixed(3)}) scale(1 ${k.toFixed(5)})`);
      ball.setAttribute('transform', `translate(0 ${(-rest).toFixed(3)})`);
    }
    if (moving.getAttribute('data-presses') === '1') {
      const u0 = Math.min(0.9, this.contact(moving).share);
      /* pushed up on its ring, held at the rim */
      this.bend(svg, -tip * share, (u) => {
        const v = Math.min(1, Math.max(0, (Math.abs(u) - u0) / (1 - u0)));
        return 1 - v * v * (3 - 2 * v);
      });
    }
  }

  /** the ring on which the carrier touches the disc: mm of paper, and as a share of the disc's half width */
  private contact(moving: SVGElement): { radius: number; share: number } {
    const radius = Number(moving.getAttribute('data-contact'));
    const disc = this.paper.querySelector<SVGGraphicsElement>('.part[data-part="disc"]');
    return { radius, share: disc ? radius / (disc.getBBox().width / 2) : 0.5 };
  }

  private sentence(t: number, share: number, travel: Travel, factor: number): string {
    const { whole, axial, lift } = travel;
    const length = (metres: number): string => show(metres, 'm', this.store.system);
    const where = axial ? 'pushed in' : 'pushed';
    const what = t < 0.1 ? 'at rest' : t < 0.6 ? `${where} ${length(Math.min(share, 1) * whole)} at the tip` : t < 0.7 ? `tripped after ${length(whole)}, running on`
      : share > 0 ? 'drawing back' : 'back at rest';
    const parts = axial && share > 0 && lift < whole ? `; at the trip ${length(lift)} of it lifts the carrier, the rest is stem and tip` : '';
    return `${what}${parts}; movement drawn ${factor.toLocaleString('en')} times`;
  }

  /** the disc's tilt and bend as one line over it, in the same exaggeration; down on the paper is + */
  private bend(svg: SVGSVGElement, lift: number, shape: (u: number) => number): void {
    const disc = this.paper.querySelector<SVGGraphicsElement>('.part[data-part="disc"]');
    if (!disc || lift === 0) {
      return;
    }
    const box = disc.getBBox();
    const half = box.width / 2;
    let d = '';
    for (let i = -40; i <= 40; i++) {
      const u = i / 40;
      d += `${i === -40 ? 'M' : 'L'}${(box.x + half + u * half).toFixed(2)} ${(box.y + box.height / 2 + lift * shape(u)).toFixed(2)}`;
    }
    svg.append(s('path', { d, class: 'motion-disc', 'aria-hidden': 'true' }));
  }
}
