import { expect, test } from 'vitest'
import { spread } from './spread'

const nearest = (places: readonly (readonly [number, number])[]) =>
  Math.min(...places.flatMap((a, index) => places.slice(index + 1).map((b) => Math.hypot(a[0] - b[0], a[1] - b[1]))))

test('marks_that_have_room_stay_where_they_are', () => {
  expect(spread([[0, 0], [40, 0], [0, 40]], 30, [[100, 100]])).toEqual([[0, 0], [40, 0], [0, 40]])
})

test('marks_close_together_or_on_one_spot_come_apart_and_off_what_stays', () => {
  for (const marks of [[[0, 0], [8, 3], [2, 12]], [[5, 5], [5, 5], [5, 5]], Array.from({ length: 9 }, (_, index) => [index, 0])] as [number, number][][]) {
    const fixed = [[10, 10]] as const
    const apart = spread(marks, 30, fixed)
    expect(nearest([...apart, ...fixed])).toBeGreaterThan(29)
    // None goes further than all of them side by side would ask for.
    for (const [index, [x, y]] of apart.entries()) expect(Math.hypot(x - (marks[index]?.[0] ?? 0), y - (marks[index]?.[1] ?? 0))).toBeLessThan(30 * (marks.length + 1))
  }
})
