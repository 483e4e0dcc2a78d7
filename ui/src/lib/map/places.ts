import type Feature from 'ol/Feature'
import OlFeature from 'ol/Feature'
import LineString from 'ol/geom/LineString'
import MultiPolygon from 'ol/geom/MultiPolygon'
import Point from 'ol/geom/Point'
import Circle from 'ol/style/Circle'
import Fill from 'ol/style/Fill'
import RegularShape from 'ol/style/RegularShape'
import Stroke from 'ol/style/Stroke'
import Style from 'ol/style/Style'
import Text from 'ol/style/Text'
import type { Dot } from '../backend/calm'
import type { Hazard, LatLon } from '../backend/generated'
import { say } from '../words'
import type { Ground } from './ground'
import type { Palette } from './palette'
import { patternFill } from './patterns'
import { spread } from './spread'

/** A place with a name on the sheet. */
export interface Place {
  at: LatLon
  text: string
  shape: 'pad' | 'base' | 'you' | 'find' | 'stop' | 'friend'
}

/** Middles of two marks with a number in them are as far apart, points of the screen: both are read. */
const APART_PX = 34
/** So far below its mark stands the middle of a name, points of the screen. */
const NAME_PX = 23
/** A mark that was moved further stands aside from its place, and a line leads there. */
const ASIDE_PX = 4

/** Places with their names; of stops that lie close together the marks stand aside, each with a line to its place. */
export function placesOf(places: readonly Place[], ground: Ground, palette: Palette): Feature[] {
  const ink = new Stroke({ color: palette.ink, width: 2.5 })
  const paper = new Fill({ color: palette.paper })
  // Marks are never left out; of two names at one place the second is.
  const kept = { declutterMode: 'none' } as const
  const shapes: Record<Place['shape'], () => RegularShape | Circle> = {
    pad: () => new RegularShape({ points: 4, radius: 11, angle: Math.PI / 4, stroke: ink, fill: paper, ...kept }),
    base: () => new RegularShape({ points: 3, radius: 11, stroke: ink, fill: paper, ...kept }),
    you: () => new Circle({ radius: 8, stroke: new Stroke({ color: palette.paper, width: 3 }), fill: new Fill({ color: palette.ink }), ...kept }),
    find: () => new RegularShape({ points: 4, radius: 11, radius2: 0, angle: Math.PI / 4, stroke: new Stroke({ color: palette.accent, width: 5 }), ...kept }),
    friend: () => new RegularShape({ points: 4, radius: 18, angle: Math.PI / 4, stroke: new Stroke({ color: palette.accent, width: 4 }), fill: paper, ...kept }),
    stop: () => new Circle({ radius: 13, stroke: new Stroke({ color: palette.accent, width: 4 }), fill: paper, ...kept }),
  }
  const isNumbered = ({ shape }: Place) => shape === 'stop' || shape === 'friend'
  const placed = (some: Place[], resolution: number) => some.map(({ at }) => ground.place(at).map((it) => it / resolution) as [number, number])
  const [stops, others] = [places.filter(isNumbered), places.filter((it) => !isNumbered(it))]
  // The names of the others stand below them, and stay.
  const still = (resolution: number) => placed(others, resolution).flatMap(([across, up]): [number, number][] => [[across, up], [across, up - NAME_PX]])
  return places.map((place) => {
    const { at, text, shape } = place
    const feature = new OlFeature(new Point(ground.place(at)))
    const isInside = isNumbered(place)
    const offsetY = isInside ? 1 : shape === 'you' ? -20 : NAME_PX
    const mark = new Style({
        image: shapes[shape](),
        text: new Text({
          text,
          font: '750 15px system-ui, sans-serif',
          offsetY,
          declutterMode: isInside ? 'none' : 'declutter',
          fill: new Fill({ color: palette.ink }),
          stroke: new Stroke({ color: palette.paper, width: 4 }),
        }),
      })
    const spot = new Style({ image: new Circle({ radius: 4, fill: new Fill({ color: palette.ink }), stroke: new Stroke({ color: palette.paper, width: 2 }), ...kept }) })
    const [halo, line] = [new Style({ stroke: new Stroke({ color: palette.paper, width: 6 }) }), new Style({ stroke: new Stroke({ color: palette.ink, width: 2 }) })]
    feature.setStyle((_, resolution) => {
      if (!isInside) return mark
      const index = stops.indexOf(place)
      const [own, aside] = [placed(stops, resolution)[index], spread(placed(stops, resolution), APART_PX, still(resolution))[index]]
      if (!own || !aside || Math.hypot(aside[0] - own[0], aside[1] - own[1]) < ASIDE_PX) {
        mark.setGeometry((it) => it.getGeometry())
        return mark
      }
      const there = aside.map((it) => it * resolution)
      for (const leader of [halo, line]) leader.setGeometry(new LineString([ground.place(at), there]))
      mark.setGeometry(new Point(there))
      return [halo, line, spot, mark]
    })
    return feature
  })
}

/** Dots of a picture, numbered; the one that waits for its place in the accent. */
export function dotsOf(dots: readonly Dot[], waiting: Dot | null, palette: Palette): Feature[] {
  return [...dots, ...(waiting ? [waiting] : [])].map((dot, index) => {
    const colour = dot === waiting ? palette.accent : palette.ink
    const feature = new OlFeature(new Point([dot.right_px, -dot.down_px]))
    feature.setStyle([
      new Style({ image: new Circle({ radius: 13, stroke: new Stroke({ color: colour, width: 4 }), fill: new Fill({ color: palette.paper }) }) }),
      new Style({ image: new Circle({ radius: 1.5, fill: new Fill({ color: colour }) }), text: new Text({ text: String(index + 1), font: '750 15px system-ui, sans-serif', offsetY: 24, fill: new Fill({ color: palette.ink }), stroke: new Stroke({ color: palette.paper, width: 4 }) }) }),
    ])
    return feature
  })
}

/** So far from the pad stands the name of ground that goes on. */
const NAMED_M = 95

/** Ground that nobody looked over: hatched, and named. */
export function uncheckedOf(geojson: unknown, ground: Ground, palette: Palette): Feature[] {
  const geometry = ground.geometry(geojson)
  if (!geometry) return []
  const feature = new OlFeature(geometry)
  const inside = geometry instanceof MultiPolygon ? geometry.getInteriorPoints().getCoordinates()[0]?.slice(0, 2) : undefined
  // On the way there, where it is in view: the middle of the sheet is the pad.
  const near = inside && inside.map((it) => it * Math.min(1, NAMED_M / Math.max(1, Math.hypot(...inside))))
  const name = new Text({ text: say('map.unchecked'), font: 'italic 650 14px system-ui, sans-serif', overflow: true, fill: new Fill({ color: palette.ink }), stroke: new Stroke({ color: palette.paper, width: 4 }) })
  feature.setStyle([
    new Style({ fill: new Fill({ color: patternFill('hatch', palette.grid) }), stroke: new Stroke({ color: palette.ink, width: 1.5, lineDash: [3, 5], lineCap: 'butt' }) }),
    ...(near ? [new Style({ geometry: new Point(near), text: name })] : []),
  ])
  return [feature]
}

/** A line through places: what is being drawn, or the way of a walk. */
export function wayOf(places: readonly LatLon[], ground: Ground, palette: Palette): Feature[] {
  const points = places.map((it) => ground.place(it))
  const dots = points.map((point) => {
    const dot = new OlFeature(new Point(point))
    dot.setStyle(new Style({ image: new Circle({ radius: 5, fill: new Fill({ color: palette.accent }), stroke: new Stroke({ color: palette.paper, width: 2 }) }) }))
    return dot
  })
  if (points.length < 2) return dots
  const line = new OlFeature(new LineString(points))
  line.setStyle([
    new Style({ stroke: new Stroke({ color: palette.paper, width: 7 }) }),
    new Style({ stroke: new Stroke({ color: palette.accent, width: 3.5, lineDash: [10, 6], lineCap: 'butt' }) }),
  ])
  return [line, ...dots]
}

/** What a map proposes, and of it what the flyer confirms so far. */
export function proposalsOf(proposed: readonly { hazard: Hazard; confirmed: boolean }[], ground: Ground, palette: Palette): Feature[] {
  return proposed.flatMap(({ hazard, confirmed }) => {
    const geometry = ground.geometry(hazard.geometry)
    if (!geometry) return []
    const feature = new OlFeature(geometry)
    const stroke = confirmed
      ? new Stroke({ color: palette.accent, width: 4 })
      : new Stroke({ color: palette.ink, width: 2, lineDash: [3, 6], lineCap: 'butt' })
    feature.setStyle(new Style({ stroke, image: new Circle({ radius: 5, stroke }) }))
    return [feature]
  })
}
