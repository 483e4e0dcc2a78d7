import { describe, expect, it } from 'vitest'
import { viewOf } from './picture'

const box = (west: number, south: number, east: number, north: number) => [[[west, south], [east, south], [east, north], [west, north]]]

describe('what of the field a picture shows', () => {
  // Pad and find 20 m apart; the even chance reaches from 20 m to 60 m.
  const marks = [0, 0, 20, 5]
  const even = { probability: 0.5, polygons: [box(20, -10, 60, 20)] }

  it('holds a wider area whole that is not much wider', () => {
    const [west = 0, south = 0, east = 0, north = 0] = viewOf(marks, [{ probability: 0.9, polygons: [box(-30, -40, 110, 50)] }, even])
    expect(west < -30 && south < -40 && east > 110 && north > 50).toBe(true)
    expect(east - west).toBeLessThan(200)
  })

  it('is not stretched by a sliver kilometres off: pad, find and the even chance fill a good quarter of it', () => {
    const [west = 0, south = 0, east = 0, north = 0] = viewOf(marks, [even, { probability: 0.9, polygons: [box(-40, -40, 90, 60), box(3000, 900, 3010, 905), box(-4000, -20, -3990, 0)] }])
    expect(west < 0 && south < -10 && east > 60 && north > 20).toBe(true)
    expect(60 / Math.max(east - west, north - south)).toBeGreaterThan(0.25)
  })

  it('shows some ground about a single place', () => {
    expect(viewOf([5, 5, 5, 5], [])).toEqual([-10, -10, 20, 20])
  })
})
