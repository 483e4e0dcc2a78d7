import { expect, test } from 'vitest'
import { between, carried, spreadOf, type Rings } from './slide'

const box = (east: number, north: number, wide: number, high: number): Rings => [
  [[east, north], [east + wide, north], [east + wide, north + high], [east, north + high]],
]

test('a_rectangle_has_the_second_moments_of_every_textbook', () => {
  // Side squared over twelve; textbook mechanics.
  const it = spreadOf([box(100, -40, 60, 24)])
  expect(it?.middle[0]).toBeCloseTo(130, 9)
  expect(it?.middle[1]).toBeCloseTo(-28, 9)
  expect((it?.root[0] ?? 0) ** 2).toBeCloseTo(60 ** 2 / 12, 6)
  expect(it?.root[1]).toBeCloseTo(0, 9)
  expect((it?.root[2] ?? 0) ** 2).toBeCloseTo(24 ** 2 / 12, 6)
})

test('a_hole_counts_against_it_whichever_way_round_it_is_drawn', () => {
  const [outer = []] = box(0, 0, 10, 10)
  const [inner = []] = box(0, 0, 5, 10)
  for (const hole of [inner, inner.toReversed()]) expect(spreadOf([[outer, hole]])?.middle[0]).toBeCloseTo(7.5, 9)
  expect(spreadOf([])).toBeNull()
})

test('on_the_way_it_lies_between_and_at_either_end_it_is_what_it_was', () => {
  const corners: Rings = [[[0, 0], [30, 10], [20, 50], [-5, 25]]]
  const [from, to] = [spreadOf([corners]), spreadOf([box(200, 100, 40, 90)])]
  if (!from || !to) throw new Error('no area')
  const [first = []] = corners
  for (const at of first) {
    const [east, north] = carried(from, between(from, to, 0))(at)
    expect([east, north].map((it) => Math.round(it * 1e6) / 1e6)).toEqual(at)
  }
  const there = spreadOf([[first.map(carried(from, between(from, to, 1)))]])
  expect(there?.middle[0]).toBeCloseTo(220, 6)
  expect(there?.root[2]).toBeCloseTo(to.root[2], 6)
  const half = spreadOf([[first.map(carried(from, between(from, to, 0.5)))]])
  expect(half?.middle[1]).toBeCloseTo((from.middle[1] + 145) / 2, 6)
})
