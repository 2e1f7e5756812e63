import { type PlaybackState, usePlayback } from '../playback/player.ts';
import { drawBarLines } from './draw-bars.ts';
import { drawHead, guideHeightPx, headHeightPx } from './draw-head.ts';
import { drawMovingJoin } from './draw-joins.ts';
import { type Drawing, drawLane, type Label, type LaneLook } from './draw-lane.ts';
import { LabelWriter } from './label-writer.ts';
import type { LaneOverlay } from './lane-overlay.ts';
import type { LaneWave, Scene, Stretch } from './lane-scene.ts';
import { onThemeChange, type Palette, readPalette } from './palette.ts';
import { PixelSheet } from './pixel-sheet.ts';
import { playbackFrame } from './the-player.ts';
import { type Follow, following, kept, pixelOf, type TimeView, wholeFramesPerPx } from './time-view.ts';
import { makeColumns } from './wave-columns.ts';
import { WaveStore } from './wave-store.ts';

/** What is in hand while lanes are drawn. */
export interface StageLook {
  readonly takeId: string | null;
  readonly stretch: (Stretch & { readonly takeId: string | null }) | null;
  /** The take being moved by hand, and the sound shown behind it. */
  readonly ghost: { readonly takeId: string; readonly wave: LaneWave } | null;
}

const NOTHING: StageLook = { takeId: null, stretch: null, ghost: null };

/**
 * The canvas of the lanes: draws what is in view whenever something of it changed, at most once a frame, and moves the
 * playback line, which is an element of its own so that playing draws nothing. One canvas serves all lanes; a drawing is
 * a few milliseconds, so nothing drawn is kept between frames.
 */
export class LanesStage {
  private store: WaveStore;
  private readonly urlOf: (route: string) => string;
  private scene: Scene | undefined;
  private look = NOTHING;
  private overlay: LaneOverlay | null = null;
  private palette: Palette | undefined;
  private canvas: HTMLCanvasElement | undefined;
  private line: HTMLElement | undefined;
  private columns = makeColumns(0);
  private overColumns = makeColumns(0);
  private image: ImageData | undefined;
  private sheet: PixelSheet | undefined;
  private view: TimeView = { leftFrame: 0, framesPerPx: 0, widthPx: 0 };
  private heightPx = 0;
  private scrollPx = 0;
  private dpr = 1;
  private dirty = true;
  private frame = 0;
  private followMode: Follow = 'pages';
  private lastLineFrame = Number.NaN;
  private followWaits = false;
  private loop: PlaybackState['loop'] = null;
  private joinAt: { readonly laneKey: string; readonly frame: number } | null = null;
  /** A view that moves all the time is not for everybody. */
  private calm: MediaQueryList | undefined;
  private readonly listeners = new Set<(view: TimeView) => void>();
  private readonly writer = new LabelWriter();

  constructor(urlOf: (route: string) => string) {
    this.urlOf = urlOf;
    this.store = this.newStore();
  }

  private newStore(): WaveStore {
    return new WaveStore(this.urlOf, () => this.invalidate());
  }

  /** Begins to draw; returns how to end. */
  start(canvas: HTMLCanvasElement, line: HTMLElement): () => void {
    this.store = this.newStore();
    this.canvas = canvas;
    this.line = line;
    this.palette = readPalette(document.documentElement);
    const repaint = (): void => {
      this.palette = readPalette(document.documentElement);
      this.invalidate();
    };
    const size = new ResizeObserver(() => this.measure());
    size.observe(canvas);
    const stopTheme = onThemeChange(repaint);
    this.calm = matchMedia('(prefers-reduced-motion: reduce)');
    const stopPlayback = usePlayback.subscribe(() => this.wake());
    this.measure();
    return () => {
      size.disconnect();
      stopTheme();
      stopPlayback();
      cancelAnimationFrame(this.frame);
      this.frame = 0;
      this.store.end();
      this.canvas = undefined;
      this.sheet = undefined;
      this.image = undefined;
    };
  }

  setScene(scene: Scene): void {
    const { view } = this;
    const old = this.scene;
    // Who saw the whole piece goes on seeing it whole when takes come in.
    const wasWhole = old === undefined || view.framesPerPx >= 0.999 * wholeFramesPerPx(old.extent, view.widthPx);
    this.scene = scene;
    this.apply(wasWhole ? { ...view, framesPerPx: Number.POSITIVE_INFINITY } : view);
    this.invalidate();
  }

  setLook(look: StageLook): void {
    this.look = look;
    this.invalidate();
  }

  setOverlay(overlay: LaneOverlay | null): void {
    if (overlay === this.overlay) return;
    this.overlay = overlay;
    this.invalidate();
  }

  getOverlay(): LaneOverlay | null {
    return this.overlay;
  }

  setFollow(follow: Follow): void {
    this.followMode = follow;
  }

  setScroll(scrollPx: number): void {
    if (scrollPx === this.scrollPx) return;
    this.scrollPx = scrollPx;
    this.invalidate();
  }

  /** Shows where a join that is being moved would go; null when none is. */
  setJoinAt(at: { readonly laneKey: string; readonly frame: number } | null): void {
    if (at === this.joinAt) return;
    this.joinAt = at;
    this.invalidate();
  }

  getView(): TimeView {
    return this.view;
  }

  getScene(): Scene | undefined {
    return this.scene;
  }

  /** Shows another part of the time line; kept within what there is. Following waits until the playback line is seen again. */
  setView(view: TimeView): void {
    this.followWaits = true;
    this.apply(view);
  }

  private apply(view: TimeView): void {
    if (this.scene === undefined || this.view.widthPx <= 0) return;
    const framesPerPx = view.framesPerPx > 0 ? view.framesPerPx : Number.POSITIVE_INFINITY;
    const next = kept({ ...view, framesPerPx, widthPx: this.view.widthPx }, this.scene.extent);
    const { leftFrame } = next;
    if (leftFrame === this.view.leftFrame && next.framesPerPx === this.view.framesPerPx) return;
    this.view = next;
    this.invalidate();
    for (const listener of this.listeners) listener(next);
  }

  onView(listener: (view: TimeView) => void): () => void {
    this.listeners.add(listener);
    listener(this.view);
    return () => this.listeners.delete(listener);
  }

  invalidate(): void {
    this.dirty = true;
    this.wake();
  }

  private wake(): void {
    if (this.frame === 0 && this.canvas !== undefined) this.frame = requestAnimationFrame(this.tick);
  }

  private readonly tick = (): void => {
    this.frame = 0;
    const { playing, loop } = usePlayback.getState();
    const at = playbackFrame();
    if (playing) this.follow(at);
    if (loop !== this.loop) {
      this.loop = loop;
      this.dirty = true;
    }
    if (this.dirty) {
      this.dirty = false;
      this.draw();
      this.lastLineFrame = Number.NaN;
    }
    this.moveLine(at);
    if (playing) this.wake();
  };

  private follow(frame: number): void {
    const { scene, view } = this;
    if (scene === undefined) return;
    const x = pixelOf(view, frame);
    if (x >= 0 && x <= view.widthPx) this.followWaits = false;
    if (this.followWaits) return;
    const isCalm = this.followMode === 'smoothly' && this.calm?.matches === true;
    this.apply(following(view, scene.extent, frame, isCalm ? 'pages' : this.followMode));
  }

  private moveLine(frame: number): void {
    if (this.line === undefined || frame === this.lastLineFrame) return;
    this.lastLineFrame = frame;
    const x = pixelOf(this.view, frame);
    const isSeen = x >= -1 && x <= this.view.widthPx;
    this.line.style.visibility = isSeen ? 'visible' : 'hidden';
    if (isSeen) this.line.style.transform = `translateX(${x.toFixed(2)}px)`;
  }

  private measure(): void {
    const { canvas } = this;
    if (canvas === undefined) return;
    const widthPx = canvas.clientWidth;
    this.heightPx = canvas.clientHeight;
    this.dpr = Math.min(3, window.devicePixelRatio || 1);
    const width = Math.round(widthPx * this.dpr);
    const height = Math.round(this.heightPx * this.dpr);
    if (width <= 0 || height <= 0) return;
    if (this.image === undefined || width !== this.image.width || height !== this.image.height) {
      canvas.width = width;
      canvas.height = height;
      this.image = new ImageData(width, height);
      this.sheet = new PixelSheet(width, height, new Uint32Array(this.image.data.buffer));
      this.columns = makeColumns(width);
      this.overColumns = makeColumns(width);
      this.writer.forget();
    }
    const old = this.view;
    this.view = { ...old, widthPx };
    // Where the whole piece was shown, it is shown whole again.
    const whole = this.scene === undefined ? 0 : wholeFramesPerPx(this.scene.extent, old.widthPx);
    const wasWhole = old.widthPx <= 0 || old.framesPerPx <= 0 || old.framesPerPx >= 0.999 * whole;
    this.apply({ ...old, framesPerPx: wasWhole ? 0 : old.framesPerPx, widthPx });
    this.invalidate();
    for (const listener of this.listeners) listener(this.view);
    // The old picture is gone with the old size: no frame may show the canvas empty.
    this.dirty = false;
    this.draw();
    this.lastLineFrame = Number.NaN;
    this.moveLine(playbackFrame());
  }

  private draw(): void {
    const { canvas, scene, palette, sheet, image } = this;
    const context = canvas?.getContext('2d', { alpha: false, desynchronized: false });
    if (!context || scene === undefined || palette === undefined || sheet === undefined || image === undefined) return;
    const { dpr } = this;
    const view: TimeView = { ...this.view, framesPerPx: this.view.framesPerPx / dpr, widthPx: sheet.width };
    const labels: Label[] = [];
    const drawing: Drawing = {
      sheet,
      view,
      dpr,
      palette: this.overlay === null ? palette : { ...palette, paleVoices: palette.faintVoices },
      store: this.store,
      columns: this.columns,
      overColumns: this.overColumns,
      labels,
    };
    this.store.beginDrawing();
    const head = headHeightPx(scene);
    drawHead(drawing, scene, this.lookOf(scene, null, true), this.loop);
    const headLabels = labels.length;
    sheet.clip(head * dpr, sheet.height);
    for (const lane of scene.lanes) {
      const top = (head + lane.topPx - this.scrollPx) * dpr;
      if (top + lane.heightPx * dpr <= sheet.top || top >= sheet.height) continue;
      drawLane(drawing, lane, top, lane.heightPx * dpr, this.lookOf(scene, lane.take?.id ?? null, false));
      const moving = this.joinAt?.laneKey === lane.key ? this.joinAt : null;
      if (moving !== null) drawMovingJoin(drawing, moving.frame, top, lane.heightPx * dpr);
    }
    const end = (head + scene.heightPx - this.scrollPx) * dpr;
    sheet.fill(0, end, sheet.width, sheet.height, palette.paper);
    drawBarLines(drawing, scene, head * dpr, Math.min(end, sheet.height));
    this.store.endDrawing();
    context.putImageData(image, 0, 0);
    const headEnd = head * dpr;
    const guideTop = headEnd - guideHeightPx(scene) * dpr;
    this.writer.write(context, labels, { headLabels, headEnd, guideTop, widthPx: sheet.width, palette, dpr });
  }

  private lookOf(scene: Scene, takeId: string | null, isGuide: boolean): LaneLook {
    const { stretch, ghost } = this.look;
    const isHere =
      stretch !== null && (isGuide ? stretch.takeId === null : takeId !== null && stretch.takeId === takeId);
    return {
      inHand: takeId !== null && takeId === this.look.takeId,
      stretch: isHere ? stretch : null,
      mixSpan: scene.mixSpan,
      ghost: ghost !== null && ghost.takeId === takeId ? ghost.wave : null,
      overlay: this.overlay,
    };
  }
}
