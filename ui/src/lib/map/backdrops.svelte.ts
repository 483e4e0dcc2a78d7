import { getWidth, type Extent } from 'ol/extent'
import { createContext } from 'svelte'
import type { Backend } from '../backend'
import type { Background, TileLaid } from '../backend/calm'
import type { LatLon } from '../backend/generated'
import type { Ground } from './ground'
import type { Muted } from './muted'

type Asked = Pick<Backend, 'background' | 'backgroundPicture' | 'tilesOver' | 'backgroundTile'>

/** A part of the sheet as a picture. */
export interface Painted {
  canvas: HTMLCanvasElement
  extent: Extent
  /** Metres a dot. */
  resolution: number
  /** Tiles, or the one picture, that are on it. */
  pieces: number
}

/** The long side of what is painted, dots: as much as a sharp screen shows. */
const LONG_PX = 2048
/** Finer than this no picture is, dots a metre. */
const FINEST = 4
/** Tiles that are kept at hand. */
const AT_HAND = 240
const KEY = 'windfall.plain_maps'

/** What lies under the maps: asked for once, painted for the ground in view, shown or not as the flyer likes. */
export class Backdrops {
  /** Whether maps show what lies under them. */
  isShown = $state(!isPlain())
  /** Grows when something was laid under a map or taken away. */
  turn = $state(0)
  readonly #backend: Asked
  // Nothing on the screen reads these: they spare questions.
  // eslint-disable-next-line svelte/prefer-svelte-reactivity
  readonly #known = new Map<string, Promise<Background | null>>()
  // eslint-disable-next-line svelte/prefer-svelte-reactivity
  readonly #pieces = new Map<string, Promise<ImageBitmap | null>>()

  constructor(backend: Asked) {
    this.#backend = backend
  }

  /** What lies under the map of a field; null with nothing. */
  of(site: string): Promise<Background | null> {
    const known = this.#known.get(site) ?? this.#backend.background(site).catch(() => null)
    this.#known.set(site, known)
    return known
  }

  /** Something was laid under a map or taken away. */
  changed(): void {
    this.#known.clear()
    this.turn++
  }

  toggle(): void {
    this.isShown = !this.isShown
    try {
      localStorage.setItem(KEY, this.isShown ? '' : 'plain')
    } catch {
      // A device that keeps nothing still shows the choice until it is closed.
    }
  }

  /** The ground in `extent` (metres on the sheet), made faint; null where nothing lies under it. */
  async paint(site: string, background: Background, ground: Ground, extent: Extent, muted: Muted): Promise<Painted | null> {
    const [west = 0, south = 0, east = 0, north = 0] = extent
    const scale = Math.min(FINEST, LONG_PX / Math.max(east - west, north - south))
    const canvas = document.createElement('canvas')
    canvas.width = Math.max(1, Math.round(getWidth(extent) * scale))
    canvas.height = Math.max(1, Math.round((north - south) * scale))
    const pen = canvas.getContext('2d')
    if (!pen) return null
    const onCanvas = (at: LatLon): [number, number] => {
      const [east_m, north_m] = ground.place(at)
      return [(east_m - west) * scale, (north - north_m) * scale]
    }
    const pieces = background.kind === 'picture'
      ? await this.#picture(pen, site, background, onCanvas, muted)
      : background.kind === 'tiles'
        ? await this.#tiles(pen, site, background.file, { north_west: ground.at([west, north]), south_east: ground.at([east, south]) }, onCanvas, muted)
        : 0
    return pieces > 0 ? { canvas, extent, resolution: 1 / scale, pieces } : null
  }

  async #picture(pen: CanvasRenderingContext2D, site: string, { file, laid }: Background & { kind: 'picture' }, onCanvas: (at: LatLon) => [number, number], muted: Muted): Promise<number> {
    const picture = await this.#piece(file, () => this.#backend.backgroundPicture(site))
    if (!picture) return 0
    const [[x, y], [xr, yr], [xd, yd]] = [onCanvas(laid.top_left), onCanvas(laid.top_right), onCanvas(laid.bottom_left)]
    const { width, height } = picture
    pen.setTransform((xr - x) / width, (yr - y) / width, (xd - x) / height, (yd - y) / height, x, y)
    faint(pen, picture, [0, 0, width, height], muted)
    return 1
  }

  async #tiles(pen: CanvasRenderingContext2D, site: string, file: string, extent: TileLaid['extent'], onCanvas: (at: LatLon) => [number, number], muted: Muted): Promise<number> {
    const laid = await this.#backend.tilesOver(site, extent)
    const pictures = await Promise.all(
      laid.map(({ tile }) => this.#piece(`${file}/${String(tile.zoom)}/${String(tile.column)}/${String(tile.row)}`, () => this.#backend.backgroundTile(site, tile))),
    )
    let drawn = 0
    for (const [index, picture] of pictures.entries()) {
      const it = laid[index]
      if (!picture || !it) continue
      // On whole dots, so that no seam shows between neighbours.
      const [x, y] = onCanvas(it.extent.north_west).map(Math.round) as [number, number]
      const [xr, yd] = onCanvas(it.extent.south_east).map(Math.round) as [number, number]
      faint(pen, picture, [x, y, xr - x, yd - y], muted)
      drawn++
    }
    return drawn
  }

  #piece(name: string, ask: () => Promise<ArrayBuffer>): Promise<ImageBitmap | null> {
    const known = this.#pieces.get(name)
    if (known) return known
    // What cannot be drawn leaves the sheet plain there; it is asked for again another time.
    const piece = ask()
      .then((bytes) => (bytes.byteLength > 0 ? createImageBitmap(new Blob([bytes])) : null))
      .catch(() => {
        this.#pieces.delete(name)
        return null
      })
    this.#pieces.set(name, piece)
    const [oldest] = this.#pieces.keys()
    if (this.#pieces.size > AT_HAND && oldest !== undefined) this.#pieces.delete(oldest)
    return piece
  }
}

function faint(pen: CanvasRenderingContext2D, picture: ImageBitmap, [x, y, width, height]: [number, number, number, number], { base, opacity }: Muted): void {
  pen.globalAlpha = 1
  pen.fillStyle = base
  pen.fillRect(x, y, width, height)
  pen.globalAlpha = opacity
  pen.drawImage(picture, x, y, width, height)
}

function isPlain(): boolean {
  try {
    return localStorage.getItem(KEY) === 'plain'
  } catch {
    return false
  }
}

/** What lies under the maps of this app. Reading it outside of the app throws. */
export const [backdropsHere, setBackdropsHere] = createContext<Backdrops>()
