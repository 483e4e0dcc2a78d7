import { boundingExtent, buffer, createEmpty, extend, getCenter, getHeight, getIntersection, getWidth, type Extent } from 'ol/extent'
import type Feature from 'ol/Feature'
import type Geometry from 'ol/geom/Geometry'
import LineString from 'ol/geom/LineString'
import MultiPolygon from 'ol/geom/MultiPolygon'
import { toContext } from 'ol/render'
import Style from 'ol/style/Style'
import type { Field, LatLon, Region } from '../backend/generated'
import { gridOf, hazardsOf, outlineOf, placesOf, type Places } from './drawing'
import { Ground } from './ground'
import type { Palette } from './palette'
import { between, carried, spreadOf, type Rings, type Spread } from './slide'

/** What a picture of the field shows. It names no place on earth and no field. */
export interface Scene {
  pad: LatLon
  field: Field | null
  places: Places
  /** Where the rest was thought to be, and where now; both empty for a picture in which nothing moves. */
  before: readonly Region[]
  after: readonly Region[]
  /** Whether the edge of the field is in the picture, however far it reaches. */
  wholeField?: boolean
}

/** An area with its parts, on the sheet. */
interface Area {
  spread: Spread
  regions: { probability: number; polygons: Rings[] }[]
}

/** Size of the picture in points of the screen, and how many dots a point has. */
export interface Frame {
  width: number
  height: number
  dots: number
}

type Onto = (at: readonly number[]) => [number, number]

const LINE = { bold: 4, dashed: 2.5 } as const

/** The part of the field that holds marks and the tightest area; a wider area is cut off where it would make a dot of them. */
export function viewOf(marks: Extent, regions: Area['regions']): Extent {
  const [tightest, ...wider] = regions.toSorted((a, b) => a.probability - b.probability)
  const near = extend([...marks], reachOf(tightest))
  const side = (it: Extent) => Math.max(getWidth(it), getHeight(it))
  // Nothing is so near that a few metres should fill the picture.
  const most = buffer(near, Math.max(15, side(near)))
  const whole = extend(near, getIntersection(wider.reduce((all, it) => extend(all, reachOf(it)), [...near]), most))
  return buffer(whole, Math.max(15, 0.06 * side(whole)))
}

const reachOf = (region: Area['regions'][number] | undefined): Extent => {
  const corners = (region?.polygons ?? []).flat(2).map((it) => [...it])
  return corners.length > 0 ? boundingExtent(corners) : createEmpty()
}

/** A scene ready to be painted at any moment of the move. */
export class Picture {
  readonly #ground: Ground
  readonly #scene: Scene
  readonly #before: Area | null
  readonly #after: Area | null
  readonly #whole: Extent
  #still: { key: string; under: HTMLCanvasElement; over: HTMLCanvasElement } | null = null

  constructor(scene: Scene) {
    this.#scene = scene
    this.#ground = new Ground(scene.pad)
    this.#before = this.#area(scene.before)
    this.#after = this.#area(scene.after)
    const points = [scene.pad, ...scene.places.found.map((it) => it.at), ...(scene.places.said ? [scene.places.said] : [])]
    const marks = boundingExtent(points.map((at) => this.#ground.place(at)))
    const outline = scene.wholeField ? this.#ground.geometry(scene.field?.outline) : null
    if (outline) extend(marks, outline.getExtent())
    // Where it was thought to be goes: only what stays decides how much of the field is seen.
    this.#whole = viewOf(marks, (this.#after ?? this.#before)?.regions ?? [])
  }

  /** Whether anything moves. */
  get moves(): boolean {
    return this.#before !== null && this.#after !== null
  }

  /** Paints the moment `share` of the move, from 0 to 1. */
  paint(pen: CanvasRenderingContext2D, frame: Frame, share: number, palette: Palette): void {
    const { width, height, dots } = frame
    const scale = Math.min((width - 110) / getWidth(this.#whole), (height - 96) / getHeight(this.#whole))
    const [east = 0, north = 0] = getCenter(this.#whole)
    const onto = ([e = 0, n = 0]: readonly number[]): [number, number] => [width / 2 + (e - east) * scale, height / 2 + 14 - (n - north) * scale]
    const { under, over } = this.#unmoved(frame, scale, onto, palette)
    pen.setTransform(1, 0, 0, 1, 0, 0)
    pen.drawImage(under, 0, 0)
    pen.setTransform(dots, 0, 0, dots, 0, 0)
    const [from, to] = [this.#before, this.#after]
    if (from && to) {
      const now = between(from.spread, to.spread, share)
      if (share > 0) this.#trail(pen, onto(from.spread.middle), onto(now.middle), palette)
      this.#drawArea(pen, from, now, 1 - share, onto, palette)
      this.#drawArea(pen, to, now, share, onto, palette)
    } else {
      const still = to ?? from
      if (still) this.#drawArea(pen, still, still.spread, 1, onto, palette)
    }
    pen.setTransform(1, 0, 0, 1, 0, 0)
    pen.drawImage(over, 0, 0)
    pen.setTransform(dots, 0, 0, dots, 0, 0)
  }

  #area(regions: readonly Region[]): Area | null {
    const drawn = regions.flatMap(({ probability, geometry }) => {
      const shape = this.#ground.geometry(geometry)
      return shape instanceof MultiPolygon ? [{ probability, polygons: shape.getCoordinates() }] : []
    })
    const widest = drawn.toSorted((a, b) => b.probability - a.probability)[0]
    const spread = widest && spreadOf(widest.polygons)
    return spread ? { spread, regions: drawn } : null
  }

  // Ground and marks are painted once for each size and look: sixty times a second would be too much for a phone.
  #unmoved(frame: Frame, scale: number, onto: Onto, palette: Palette): { under: HTMLCanvasElement; over: HTMLCanvasElement } {
    const key = JSON.stringify([frame, palette])
    if (this.#still?.key === key) return this.#still
    const { width, height } = frame
    const { field, places } = this.#scene
    const nameless = field && { ...field, hazards: field.hazards.map((it) => ({ ...it, name: null })) }
    const reach_m = Math.max(width, height) / scale + Math.max(...this.#whole.map(Math.abs))
    const over = sheetOf(frame)
    // Over the area, which may reach beyond the picture.
    if (over.pen) drawScale(over.pen, frame, scale, palette)
    const hazards = hazardsOf(nameless, this.#ground, palette)
    const taken = press(over.canvas, frame, onto, placesOf(places, this.#ground, palette))
    // Of two names for which there is room for one, wires come first.
    const urgent = nameless && { ...nameless, hazards: nameless.hazards.toSorted((a, b) => Number(b.kind === 'power_line') - Number(a.kind === 'power_line')) }
    press(over.canvas, frame, onto, hazardsOf(urgent, this.#ground, palette), { names: 'alone', taken })
    const under = sheetOf(frame)
    if (under.pen) {
      under.pen.fillStyle = palette.ground
      under.pen.fillRect(0, 0, width, height)
    }
    press(under.canvas, frame, onto, [
      ...outlineOf(nameless, this.#ground, palette),
      ...gridOf(100, reach_m, palette),
      ...hazards,
    ], { names: 'none' })
    this.#still = { key, under: under.canvas, over: over.canvas }
    return this.#still
  }

  #drawArea(pen: CanvasRenderingContext2D, area: Area, now: Spread, strength: number, onto: Onto, palette: Palette): void {
    if (strength <= 0) return
    const carry = carried(area.spread, now)
    const tightest = Math.min(...area.regions.map((it) => it.probability))
    for (const { probability, polygons } of area.regions.toSorted((a, b) => b.probability - a.probability)) {
      const bold = probability === tightest
      const path = new Path2D()
      for (const ring of polygons.flat()) {
        ring.forEach((at, i) => {
          const [x, y] = onto(carry(at))
          if (i === 0) path.moveTo(x, y)
          else path.lineTo(x, y)
        })
        path.closePath()
      }
      pen.globalAlpha = strength * (bold ? 0.38 : 0.2)
      pen.fillStyle = palette.accent
      pen.fill(path, 'evenodd')
      pen.globalAlpha = strength
      pen.setLineDash([])
      pen.lineWidth = (bold ? LINE.bold : LINE.dashed) + 3
      pen.strokeStyle = palette.paper
      pen.stroke(path)
      pen.setLineDash(bold ? [] : [10, 7])
      pen.lineWidth = bold ? LINE.bold : LINE.dashed
      pen.strokeStyle = palette.accent
      pen.stroke(path)
    }
    pen.globalAlpha = 1
    pen.setLineDash([])
  }

  /** Where it came from: a line of dots that ends in a head. */
  #trail(pen: CanvasRenderingContext2D, [x1, y1]: [number, number], [x2, y2]: [number, number], palette: Palette): void {
    if (Math.hypot(x2 - x1, y2 - y1) < 12) return
    pen.strokeStyle = palette.ink
    pen.lineWidth = 3
    pen.lineCap = 'round'
    pen.setLineDash([0.1, 9])
    pen.beginPath()
    pen.moveTo(x1, y1)
    pen.lineTo(x2, y2)
    pen.stroke()
    pen.setLineDash([])
    pen.lineCap = 'butt'
  }
}

function sheetOf({ width, height, dots }: Frame): { canvas: HTMLCanvasElement; pen: CanvasRenderingContext2D | null } {
  const canvas = document.createElement('canvas')
  canvas.width = Math.round(width * dots)
  canvas.height = Math.round(height * dots)
  const pen = canvas.getContext('2d')
  pen?.setTransform(dots, 0, 0, dots, 0, 0)
  return { canvas, pen }
}

/** Where a name stands, in points of the screen. */
type Box = [left: number, top: number, right: number, bottom: number]

/** Rather roomy: the printer does not tell how wide a name became. */
const LETTER_PX = 8.5

/**
 * Prints features onto a sheet the way the map draws them: with names, without, or names alone, of which those are left
 * out that would cover another or one of `taken`. Returns where names stand.
 */
function press(
  sheet: HTMLCanvasElement,
  frame: Frame,
  onto: Onto,
  features: Feature[],
  { names = 'too', taken = [] }: { names?: 'too' | 'none' | 'alone'; taken?: readonly Box[] } = {},
): Box[] {
  const boxes: Box[] = [...taken]
  const fits = ([left, top, right, bottom]: Box) =>
    left > 0 && right < frame.width && top > 0 && bottom < frame.height && boxes.every((it) => right < it[0] || left > it[2] || bottom < it[1] || top > it[3])
  const onScreen = (geometry: Geometry): Geometry => {
    const copy = geometry.clone()
    copy.applyTransform((input: number[], output?: number[], stride = 2) => {
      const out = output ?? input
      for (let i = 0; i + 1 < input.length; i += stride) [out[i], out[i + 1]] = onto([input[i] ?? 0, input[i + 1] ?? 0])
      return out
    })
    return copy
  }
  // The printer sizes its canvas anew, which clears it: so it has one of its own.
  const layer = sheetOf(frame)
  if (!layer.pen) return boxes
  const printer = toContext(layer.pen, { size: [frame.width, frame.height], pixelRatio: frame.dots })
  for (const feature of features) {
    const shape = feature.getGeometry()
    if (!shape) continue
    const copy = feature.clone()
    copy.setGeometry(onScreen(shape))
    for (const style of [feature.getStyle()].flat()) {
      if (!(style instanceof Style)) continue
      const its = style.clone()
      const place = style.getGeometry()
      if (place && typeof place === 'object' && 'applyTransform' in place) its.setGeometry(onScreen(place as Geometry))
      const text = its.getText()
      if (names === (text ? 'none' : 'alone')) continue
      if (text) {
        const held = (its.getGeometry() as Geometry | undefined) ?? copy.getGeometry() ?? shape
        const [west = 0, , east = 0, north = 0] = held.getExtent()
        // The printer writes the name of a line beside its middle.
        const [over = 0, at = 0] = held instanceof LineString ? held.getFlatMidpoint() : [(west + east) / 2, north]
        const below = text.getTextBaseline() === 'top' ? HALF_NAME_PX : text.getTextBaseline() === 'bottom' ? -HALF_NAME_PX : 0
        const words = String(text.getText())
        const [long, x] = [words.length * LETTER_PX, over + text.getOffsetX()]
        const y = insideOf(frame, at + text.getOffsetY() + below)
        text.setOffsetY(y - at - below)
        const wanted = text.getTextAlign() === 'right' ? x - long : text.getTextAlign() === 'left' ? x : x - long / 2
        // Names that may be left out are; the others stay whole.
        const left = names === 'alone' ? wanted : Math.max(0, Math.min(wanted, frame.width - long))
        text.setOffsetX(text.getOffsetX() + left - wanted)
        const box: Box = [left, y - 10, left + long, y + 10]
        if (names === 'alone' && !fits(box)) continue
        boxes.push(box)
      }
      printer.drawFeature(copy, its)
    }
  }
  const pen = sheet.getContext('2d')
  pen?.save()
  pen?.setTransform(1, 0, 0, 1, 0, 0)
  pen?.drawImage(layer.canvas, 0, 0)
  pen?.restore()
  return boxes
}

/** Half the height of a name, and of what stands about it, px. */
const HALF_NAME_PX = 11
/** A name that would be cut at an edge of the picture is moved in by so much at most: further off it belongs to nothing that is seen. */
const MOVED_IN_PX = 40

function insideOf({ height }: Frame, y: number): number {
  const inside = Math.min(Math.max(y, HALF_NAME_PX), height - HALF_NAME_PX)
  return Math.abs(inside - y) <= MOVED_IN_PX ? inside : y
}

/** A bar of a round length, and which way is north. */
function drawScale(pen: CanvasRenderingContext2D, { width, height }: Frame, scale: number, palette: Palette): void {
  const long_m = [500, 200, 100, 50, 20, 10].find((it) => it * scale < width / 3) ?? 5
  const [left, bottom, long] = [16, height - 16, long_m * scale]
  pen.fillStyle = palette.ground
  pen.globalAlpha = 0.85
  pen.fillRect(left - 8, bottom - 34, long + 16, 42)
  pen.globalAlpha = 1
  pen.strokeStyle = pen.fillStyle = palette.ink
  pen.lineWidth = 3
  pen.beginPath()
  pen.moveTo(left, bottom - 8)
  pen.lineTo(left, bottom)
  pen.lineTo(left + long, bottom)
  pen.lineTo(left + long, bottom - 8)
  pen.stroke()
  pen.font = '700 14px system-ui, sans-serif'
  pen.textAlign = 'center'
  pen.fillText(`${String(long_m)} m`, left + long / 2, bottom - 12)
  const [x, y] = [width - 28, 52]
  pen.fillStyle = palette.ground
  pen.globalAlpha = 0.85
  pen.fillRect(x - 18, y - 44, 36, 66)
  pen.globalAlpha = 1
  pen.fillStyle = palette.ink
  pen.beginPath()
  pen.moveTo(x, y - 20)
  pen.lineTo(x + 9, y + 14)
  pen.lineTo(x, y + 7)
  pen.lineTo(x - 9, y + 14)
  pen.closePath()
  pen.fill()
  pen.fillText('N', x, y - 25)
}

/** The picture with its sentence above it, as a file that holds nothing else. */
export async function asFile(picture: Picture, sentence: string, name: string, palette: Palette): Promise<Blob> {
  const [width, height, dots, band] = [540, 675, 2, 96]
  const canvas = document.createElement('canvas')
  canvas.width = width * dots
  canvas.height = height * dots
  const pen = canvas.getContext('2d')
  if (!pen) throw new Error('no canvas')
  picture.paint(pen, { width, height, dots }, 1, palette)
  pen.fillStyle = palette.paper
  pen.fillRect(0, 0, width, band)
  pen.fillStyle = palette.ink
  pen.fillRect(0, band, width, 3)
  pen.textAlign = 'left'
  const lines = wrapped(pen, sentence, width - 32, '800 23px system-ui, sans-serif')
  lines.slice(0, 2).forEach((line, i) => {
    pen.fillText(line, 16, 34 + i * 28)
  })
  pen.font = '700 14px system-ui, sans-serif'
  pen.fillText(name, 16, band - 10)
  return new Promise((done, failed) => {
    canvas.toBlob((png) => {
      if (png) done(png)
      else failed(new Error('no picture'))
    }, 'image/png')
  })
}

function wrapped(pen: CanvasRenderingContext2D, text: string, width: number, font: string): string[] {
  pen.font = font
  const lines: string[] = []
  for (const word of text.split(' ')) {
    const longer = lines.length > 0 ? `${lines.at(-1) ?? ''} ${word}` : word
    if (lines.length > 0 && pen.measureText(longer).width <= width) lines[lines.length - 1] = longer
    else lines.push(word)
  }
  return lines
}
