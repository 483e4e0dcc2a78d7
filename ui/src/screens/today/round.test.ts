import { expect, test } from 'vitest'
import type { PickUpWalk } from '../../lib/backend/calm'
import { PickUpRound } from './round.svelte'

const leg = (place: number) => ({ place, stop: { lat: 44, lon: -38 }, said: null, distance_m: 40, walk_s: 40, bearing_true_deg: 90, bearing_magnetic_deg: 90 })
const walk: PickUpWalk = {
  waiting: ['a', 'b', 'c'].map((flight) => ({ flight, title: flight, part: 'rocket', is_friends: false })),
  round: { legs: [leg(2), leg(0), leg(1)], back_m: 10, any_marked: true },
  left_out: [],
  not_yet: [],
}

test('a_round_goes_on_with_the_next_when_one_is_found_or_left_and_keeps_its_order', () => {
  const round = new PickUpRound()
  expect(round.next).toBeNull()
  round.begin(walk)
  const places: string[] = []
  for (let at = round.next; at !== null; at = round.next) {
    const stop = walk.waiting[walk.round.legs[at]?.place ?? 0]
    if (!stop) throw new Error('a place without anything')
    places.push(stop.flight)
    round.walkTo(stop)
    expect(round.arrived('another')).toBe(false) // looked at on the way: that is no stop
    expect(round.arrived(stop.flight)).toBe(true)
    expect(round.arrived(stop.flight)).toBe(false)
  }
  expect(places).toEqual(['c', 'a', 'b'])
  round.end()
  expect(round.arrived('a')).toBe(false)
})
