import type LineString from 'ol/geom/LineString'
import type Point from 'ol/geom/Point'
import type Style from 'ol/style/Style'
import { expect, test } from 'vitest'
import { Ground } from './ground'
import type { Palette } from './palette'
import { placesOf, type Place } from './places'

const INK = { ink: '#000', paper: '#fff', accent: '#808' } as Palette

test('numbers_of_stops_a_few_metres_apart_stand_beside_each_other_and_a_line_leads_to_each_place', () => {
  const origin = { lat: 47.53, lon: 17.28 }
  const ground = new Ground(origin)
  const at = (east_m: number, north_m: number) => ground.at([east_m, north_m])
  const stops: Place[] = [at(100, 0), at(108, 6), at(96, 11), at(-150, 0)].map((it, index) => ({ at: it, text: String(index + 1), shape: index === 1 ? 'friend' : 'stop' }))
  const features = placesOf([{ at: origin, text: 'pad', shape: 'pad' }, ...stops], ground, INK)
  const drawn = (resolution: number) => features.slice(1).map((it) => [(it.getStyleFunction()?.(it, resolution) ?? [])].flat() as Style[])
  // One metre a point of the screen: marks of 26 and more cover each other.
  const wide = drawn(1)
  expect(wide.map((it) => it.length)).toEqual([4, 4, 4, 1])
  const middles = wide.slice(0, 3).map((it) => (it[3]?.getGeometry() as Point).getCoordinates())
  for (const [index, a] of middles.entries()) for (const b of middles.slice(index + 1)) expect(Math.hypot((a[0] ?? 0) - (b[0] ?? 0), (a[1] ?? 0) - (b[1] ?? 0))).toBeGreaterThan(33)
  wide.slice(0, 3).forEach((it, index) => {
    const [from, to] = (it[1]?.getGeometry() as LineString).getCoordinates()
    const place = ground.place(stops[index]?.at ?? origin)
    expect(from).toEqual(place)
    expect(to).toEqual(middles[index])
  })
  // Looked at from near they have room, and stand where they are.
  const near = drawn(0.1)
  expect(near.map((it) => it.length)).toEqual([1, 1, 1, 1])
  near.forEach((it, index) => {
    const feature = features[index + 1]
    const stands = feature && it[0]?.getGeometryFunction()(feature)
    expect((stands as Point | undefined)?.getCoordinates()).toEqual(ground.place(stops[index]?.at ?? origin))
  })
})
