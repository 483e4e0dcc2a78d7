import type { Extent } from 'ol/extent'
import Feature from 'ol/Feature'
import CircleOnGround from 'ol/geom/Circle'
import type Geometry from 'ol/geom/Geometry'
import LineString from 'ol/geom/LineString'
import MultiLineString from 'ol/geom/MultiLineString'
import MultiPolygon from 'ol/geom/MultiPolygon'
import Point from 'ol/geom/Point'
import Circle from 'ol/style/Circle'
import Fill from 'ol/style/Fill'
import RegularShape from 'ol/style/RegularShape'
import Stroke from 'ol/style/Stroke'
import Style from 'ol/style/Style'
import Text from 'ol/style/Text'
import type { Answer, Evidence, Field, HazardChance, HazardKind, LatLon, Region } from '../backend/generated'
import { say, type WordKey } from '../words'
import { counted } from '../words/sentence'
import { northernmost, type Ground } from './ground'
import type { Palette } from './palette'
import { patternFill, type Pattern } from './patterns'

const FONT = 'system-ui, sans-serif'

function label(text: string, ink: string, paper: string, more: Partial<ConstructorParameters<typeof Text>[0]> = {}): Text {
  return new Text({
    text,
    font: `650 14px ${FONT}`,
    fill: new Fill({ color: ink }),
    stroke: new Stroke({ color: paper, width: 4 }),
    overflow: true,
    ...more,
  })
}

function drawn(geometry: Geometry, ...styles: Style[]): Feature {
  const feature = new Feature(geometry)
  feature.setStyle(styles)
  return feature
}

/** A square grid that gives the empty sheet a measure. */
export function gridOf(step_m: number, reach_m: number, palette: Palette): Feature[] {
  const style = new Style({ stroke: new Stroke({ color: palette.grid, width: 1 }) })
  const lines: number[][][] = []
  const n = Math.ceil(reach_m / step_m)
  const edge = n * step_m
  for (let i = -n; i <= n; i++) {
    lines.push([[i * step_m, -edge], [i * step_m, edge]], [[-edge, i * step_m], [edge, i * step_m]])
  }
  // One thing to draw: a hundred are felt when the map moves.
  return [drawn(new MultiLineString(lines), style)]
}

/** The outline of the field; none without one. */
export function outlineOf(field: Field | null | undefined, ground: Ground, palette: Palette): Feature[] {
  const geometry = ground.geometry(field?.outline)
  if (!geometry) return []
  return [
    drawn(
      geometry,
      new Style({ fill: new Fill({ color: palette.field }), stroke: new Stroke({ color: palette.ink, width: 2 }) }),
    ),
  ]
}

interface Look {
  pattern: Pattern
  ink: (palette: Palette) => string
}

const inInk = (palette: Palette) => palette.ink
const HAZARDS: Record<HazardKind, Look> = {
  road: { pattern: 'hatch', ink: inInk },
  railway: { pattern: 'hatch', ink: inInk },
  power_line: { pattern: 'cross', ink: inInk },
  water: { pattern: 'waves', ink: (palette) => palette.water },
  trees: { pattern: 'trees', ink: (palette) => palette.plants },
  buildings: { pattern: 'solid', ink: inInk },
  crop: { pattern: 'rows', ink: (palette) => palette.plants },
  livestock: { pattern: 'dots', ink: inInk },
  private_land: { pattern: 'hatch', ink: inInk },
  other: { pattern: 'cross', ink: inInk },
}

/** Strokes of a hazard that is a line, widest first. */
function lineStrokes(kind: HazardKind, palette: Palette): Stroke[] {
  const { ink, paper, water } = palette
  switch (kind) {
    case 'road':
      return [new Stroke({ color: ink, width: 9 }), new Stroke({ color: paper, width: 5 })]
    case 'railway':
      return [
        new Stroke({ color: ink, width: 2 }),
        new Stroke({ color: ink, width: 9, lineDash: [2, 12], lineCap: 'butt' }),
      ]
    case 'power_line':
      return [
        new Stroke({ color: ink, width: 1.5 }),
        new Stroke({ color: ink, width: 8, lineDash: [0.1, 26], lineCap: 'round' }),
      ]
    case 'water':
      return [new Stroke({ color: water, width: 6 })]
    default:
      return [new Stroke({ color: ink, width: 3, lineDash: [8, 6], lineCap: 'butt' })]
  }
}

function southEdge([west = 0, south = 0, east = 0]: Extent): [number, number] {
  return [(west + east) / 2, south]
}

function northEdge([west = 0, , east = 0, north = 0]: Extent): [number, number] {
  return [(west + east) / 2, north]
}

/**
 * Ground to keep away from, each kind with a pattern and a name of its own. `chances`: what the answer says of each; where it
 * may hang above the ground the name says so, and the edge is heavy.
 */
export function hazardsOf(field: Field | null | undefined, ground: Ground, palette: Palette, chances: readonly HazardChance[] = []): Feature[] {
  return (field?.hazards ?? []).flatMap((hazard, index) => {
    const geometry = ground.geometry(hazard.geometry)
    if (!geometry) return []
    const look = HAZARDS[hazard.kind]
    const ink = look.ink(palette)
    const called = hazard.name ?? say(`hazard.${hazard.kind}`)
    const looksUp = chances[index]?.look_up === true
    const name = looksUp ? say('map.look_up', { what: called }) : called
    const type = geometry.getType()
    if (type.includes('Polygon')) {
      return [
        drawn(
          geometry,
          new Style({
            fill: new Fill({ color: patternFill(look.pattern, ink) }),
            stroke: new Stroke({ color: ink, width: looksUp ? 4 : 1.5 }),
          }),
          // On its southern edge, where the marks of the answer seldom are; what is more than a name where fewer names are.
          new Style({
            // Before the names of others.
            zIndex: looksUp ? 1 : 0,
            geometry: new Point(looksUp ? northEdge(geometry.getExtent()) : southEdge(geometry.getExtent())),
            text: label(name, palette.ink, palette.paper, looksUp ? { textBaseline: 'bottom', offsetY: -4 } : { textBaseline: 'top', offsetY: 3 }),
          }),
        ),
      ]
    }
    if (type.includes('LineString')) {
      const strokes = lineStrokes(hazard.kind, palette).map((stroke) => new Style({ stroke }))
      const text = label(name, palette.ink, palette.paper, { placement: 'line', textBaseline: 'bottom', offsetY: -7 })
      return [drawn(geometry, ...strokes, new Style({ text }))]
    }
    const image = new RegularShape({
      points: 4,
      radius: 9,
      angle: Math.PI / 4,
      fill: new Fill({ color: ink }),
      stroke: new Stroke({ color: palette.paper, width: 2 }),
      declutterMode: 'none',
    })
    return [drawn(geometry, new Style({ image, text: label(name, palette.ink, palette.paper, { offsetY: 20 }) }))]
  })
}

/** Outlines of the areas: the likelier half bold, the nine tenths dashed; of a rough answer both in broken dashes. */
export function regionsOf(regions: readonly Region[], ground: Ground, palette: Palette, isRough = false): Feature[] {
  const tightest = Math.min(...regions.map((region) => region.probability))
  return regions.flatMap((region) => {
    const geometry = ground.geometry(region.geometry)
    if (!geometry) return []
    const bold = region.probability === tightest
    const dashes = isRough ? { lineDash: bold ? [14, 10] : [4, 8] } : bold ? {} : { lineDash: [10, 7] }
    const stroke = new Stroke({ color: palette.accent, width: bold ? 4 : 2.5, lineCap: 'butt', ...dashes })
    const corners = geometry instanceof MultiPolygon ? geometry.getCoordinates().flat(2) : []
    const tag = new Style({
      geometry: new Point(northernmost(corners)),
      text: label(counted(region.probability), palette.accent, palette.paper, {
        textBaseline: 'bottom',
        offsetY: -4,
      }),
    })
    // A halo of paper keeps the line readable across hatching.
    const halo = new Style({ stroke: new Stroke({ color: palette.paper, width: bold ? 7 : 5 }) })
    return [drawn(geometry, halo, new Style({ stroke }), ...(corners.length > 0 ? [tag] : []))]
  })
}

/** Half as wide as what was looked over from a path, m: a good look in grass. Judgement. */
const LOOKED_M = 12

/** Ground that was searched in vain: crossed out. */
export function walkedOf(evidence: readonly Evidence[], ground: Ground, palette: Palette): Feature[] {
  const sweeps = evidence.flatMap((it) => (it.kind === 'sweep' && !it.set_aside ? [it] : []))
  return sweeps.flatMap(({ path, seen_from_m }) => {
    const places = path.map(([, lat, lon]) => ground.place({ lat, lon }))
    const ends = places.filter((_, at) => at === 0 || at === places.length - 1)
    const line = drawn(new LineString(places), new Style({ stroke: new Stroke({ color: palette.ink, width: 3, lineDash: [2, 7], lineCap: 'round' }) }))
    const looked = ends.map((at) =>
      drawn(new CircleOnGround(at, seen_from_m ?? LOOKED_M), new Style({ stroke: new Stroke({ color: palette.ink, width: 2, lineDash: [2, 5] }) })),
    )
    const end = places.at(-1)
    const cross = new RegularShape({ points: 4, radius: 9, radius2: 0, angle: Math.PI / 4, stroke: new Stroke({ color: palette.ink, width: 3.5 }), declutterMode: 'none' })
    return [line, ...looked, ...(end ? [drawn(new Point(end), new Style({ image: cross }))] : [])]
  })
}

/** Directions that were sighted. Of a followed flight, hundreds of lines, only the last is named. */
export function sightLinesOf(answer: Answer, ground: Ground, palette: Palette): Feature[] {
  const lastOf = new Map(answer.sight_lines.map((line, index) => [line.evidence, index]))
  return answer.sight_lines.map((line, index) => {
    const shape = new LineString([ground.place(line.from), ground.place(line.to)])
    const faint = line.moment === 'track' && lastOf.get(line.evidence) !== index
    const stroke = new Stroke({
      color: faint ? palette.grid : palette.ink,
      width: faint ? 1 : 2,
      lineDash: [2, 6],
      lineCap: 'butt',
    })
    if (faint) return drawn(shape, new Style({ stroke }))
    const far = new Style({
      geometry: new Point(shape.getCoordinateAt(0.4)),
      text: label(sightName(line.moment), palette.ink, palette.paper, { font: `italic 600 14px ${FONT}` }),
    })
    return drawn(shape, new Style({ stroke }), far)
  })
}

const MOMENTS: Record<string, WordKey> = {
  apogee: 'moment.apogee',
  deployment: 'moment.deployment',
  descent: 'moment.descent',
  lost: 'moment.lost',
  landed: 'moment.landed',
  track: 'moment.track',
}

/** What a direction shows. */
export function sightName(moment: string): string {
  const key = MOMENTS[moment]
  return key ? say(key) : moment
}

/** What the marks stand for. */
export interface Marks {
  pad: LatLon
  /** Where the flyer stands, if not at the pad. */
  you: LatLon | null
  aim: LatLon
  /** Whether it lay there: nobody has to start anywhere. */
  isFound?: boolean
  /** Whether it was looked for there in vain. */
  isSearched?: boolean
  /** Where to start if the chosen mode is what happened. */
  modeAim: LatLon | null
  /** Only if there is a reason to stop short. */
  approach: LatLon | null
}

/** Pad, flyer and the thing that something was in line with, before there is an answer. */
export function draftOf(
  { pad, you, mark }: { pad: LatLon | null; you: LatLon | null; mark: LatLon | null },
  ground: Ground,
  palette: Palette,
): Feature[] {
  const ink = new Stroke({ color: palette.ink, width: 2.5 })
  const paper = new Fill({ color: palette.paper })
  const placed = (at: LatLon, name: WordKey, ...images: (Circle | RegularShape)[]) =>
    drawn(
      new Point(ground.place(at)),
      ...images.map((image) => new Style({ image })),
      new Style({ text: label(say(name), palette.ink, palette.paper, { font: `750 15px ${FONT}`, declutterMode: 'obstacle' }) }),
    )
  return [
    ...(pad
      ? [placed(pad, 'map.pad', new RegularShape({ points: 4, radius: 11, angle: Math.PI / 4, stroke: ink, fill: paper }), new RegularShape({ points: 4, radius: 9, radius2: 0, stroke: ink }))]
      : []),
    ...(you ? [placed(you, 'map.you', new Circle({ radius: 9, stroke: new Stroke({ color: palette.paper, width: 3 }), fill: new Fill({ color: palette.ink }) }))] : []),
    ...(mark ? [placed(mark, 'map.mark', new RegularShape({ points: 4, radius: 10, radius2: 0, angle: Math.PI / 4, stroke: new Stroke({ color: palette.accent, width: 4 }) }))] : []),
  ]
}

/** Where the way back leads. */
export function baseOf(base: LatLon | null, ground: Ground, palette: Palette): Feature[] {
  if (!base) return []
  const image = new RegularShape({ points: 5, radius: 11, fill: new Fill({ color: palette.paper }), stroke: new Stroke({ color: palette.ink, width: 2.5 }) })
  const text = label(say('map.base'), palette.ink, palette.paper, { font: `750 15px ${FONT}`, declutterMode: 'obstacle' })
  return [drawn(new Point(ground.place(base)), new Style({ image }), new Style({ text }))]
}

/** What was picked up, and where it was thought to be. */
export interface Places {
  pad: LatLon
  found: readonly { at: LatLon; name: string }[]
  said: LatLon | null
}

/** Pad, what was picked up and where, and the ring where it was thought to be. */
export function placesOf({ pad, found, said }: Places, ground: Ground, palette: Palette): Feature[] {
  const at = (place: LatLon) => new Point(ground.place(place))
  const ink = new Stroke({ color: palette.ink, width: 2.5 })
  const paper = new Fill({ color: palette.paper })
  const named = (text: string, color: string, side: Side) =>
    new Style({ text: label(text, color, palette.paper, { ...SIDES[side], font: `750 15px ${FONT}` }) })
  const square = (points: Partial<ConstructorParameters<typeof RegularShape>[0]>) =>
    new Style({ image: new RegularShape({ points: 4, radius: 11, stroke: ink, fill: paper, ...points }) })
  // Each name stands on the side away from the other marks.
  const nearest = (said ? [said] : found.map((it) => it.at))[0]
  const padSide: Side = nearest && nearest.lon < pad.lon ? 'right' : 'left'
  const foundSide = (it: LatLon): Side => (said ? (it.lat < said.lat ? 'below' : 'above') : it.lon < pad.lon ? 'left' : 'right')
  const saidSide: Side = found.some((it) => said && it.at.lat >= said.lat) ? 'below' : 'above'
  const features = [drawn(at(pad), square({ angle: Math.PI / 4 }), square({ radius: 9, radius2: 0 }), named(say('map.pad'), palette.ink, padSide))]
  if (said) {
    for (const it of found) {
      const shape = new LineString([ground.place(said), ground.place(it.at)])
      features.push(drawn(shape, new Style({ stroke: new Stroke({ color: palette.paper, width: 6 }) }), new Style({ stroke: ink })))
    }
    const ring = (stroke: Stroke, radius = 13) => new Style({ image: new Circle({ radius, stroke }) })
    features.push(
      drawn(
        at(said),
        ring(new Stroke({ color: palette.paper, width: 9 })),
        ring(new Stroke({ color: palette.accent, width: 4.5 })),
        named(say('picture.said'), palette.accent, saidSide),
      ),
    )
  }
  for (const it of found) {
    const full = new RegularShape({ points: 4, radius: 12, angle: 0, fill: new Fill({ color: palette.ink }), stroke: new Stroke({ color: palette.paper, width: 3 }) })
    features.push(drawn(at(it.at), new Style({ image: full }), named(it.name, palette.ink, foundSide(it.at))))
  }
  return features
}

/** Pad, flyer, the ring to start at, the triangle to stop at. Their names find their own places on the sheet. */
export function marksOf(marks: Marks, ground: Ground, palette: Palette): Feature[] {
  const at = (place: LatLon) => new Point(ground.place(place))
  const paper = new Fill({ color: palette.paper })
  const inkLine = new Stroke({ color: palette.ink, width: 2.5 })
  // Marks and their names are never left out; the labels of the ground give way to them.
  const kept = { declutterMode: 'obstacle' } as const
  const named = (text: string, ink: string) => new Style({ text: label(text, ink, palette.paper, { font: `750 15px ${FONT}`, declutterMode: 'obstacle' }) })
  const circle = (radius: number, stroke: Stroke, fill?: Fill) =>
    new Style({ image: new Circle({ ...kept, radius, stroke, ...(fill ? { fill } : {}) }) })
  const ring = (dash: number[]) => [
    circle(13, new Stroke({ color: palette.paper, width: 9 })),
    circle(13, new Stroke({ color: palette.accent, width: 4.5, lineDash: dash, lineCap: 'butt' })),
    circle(4.5, new Stroke({ color: palette.paper, width: 2 }), new Fill({ color: palette.accent })),
  ]
  const square = (points: Partial<ConstructorParameters<typeof RegularShape>[0]>) =>
    new Style({ image: new RegularShape({ ...kept, points: 4, radius: 11, stroke: inkLine, fill: paper, ...points }) })

  const features = [
    drawn(at(marks.aim), ...ring([]), named(say(marks.isFound ? 'map.found' : marks.isSearched ? 'map.walked' : 'map.start_here'), palette.accent)),
    drawn(at(marks.pad), square({ angle: Math.PI / 4 }), square({ radius: 9, radius2: 0 }), named(say('map.pad'), palette.ink)),
  ]
  if (marks.approach) {
    const triangle = new RegularShape({ ...kept, points: 3, radius: 14, fill: paper, stroke: new Stroke({ color: palette.accent, width: 4 }) })
    features.push(
      drawn(at(marks.approach), new Style({ image: triangle }), named(say('map.approach'), palette.accent)),
    )
  }
  if (marks.modeAim) features.push(drawn(at(marks.modeAim), ...ring([3, 5]), named(say('map.if_so'), palette.accent)))
  if (marks.you) {
    features.push(
      drawn(at(marks.you), circle(9, new Stroke({ color: palette.paper, width: 3 }), new Fill({ color: palette.ink })), named(say('map.you'), palette.ink)),
    )
  }
  return features
}

type Side = 'above' | 'below' | 'left' | 'right'
const SIDES: Record<Side, Partial<ConstructorParameters<typeof Text>[0]>> = {
  above: { offsetY: -28 },
  below: { offsetY: 27 },
  left: { textAlign: 'right', offsetX: -22 },
  right: { textAlign: 'left', offsetX: 22 },
}
