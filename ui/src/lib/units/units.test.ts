import { expect, test } from 'vitest'
import { area, bearing, chance, distance, minutes, hours } from '.'

// Definitions of 1959 (yard 0.9144 m) and of the US survey-free acre (4840 square yards): exact, worked by hand.
test('distances_follow_the_international_yard', () => {
  expect(distance(304.8, 'imperial')).toEqual({ number: '1000', unit: 'ft' })
  expect(distance(1609.344, 'imperial')).toEqual({ number: '1.0', unit: 'mi' })
  expect(distance(12.4, 'metric')).toEqual({ number: '12', unit: 'm' })
  expect(distance(287, 'metric')).toEqual({ number: '290', unit: 'm' })
  expect(distance(1234, 'metric')).toEqual({ number: '1.2', unit: 'km' })
})

test('no_distance_is_rounded_into_the_next_unit_by_halves', () => {
  expect(distance(994.9, 'metric')).toEqual({ number: '990', unit: 'm' })
  expect(distance(995, 'metric')).toEqual({ number: '1.0', unit: 'km' })
})

test('areas_follow_the_acre_and_the_hectare', () => {
  expect(area(4046.8564224, 'imperial')).toEqual({ number: '1.0', unit: 'acres' })
  expect(area(10_000, 'metric')).toEqual({ number: '1.0', unit: 'ha' })
  expect(area(1234, 'metric')).toEqual({ number: '1\u202f200', unit: 'm²' })
})

test('a_bearing_has_three_digits_and_never_says_360', () => {
  expect(bearing(7.4)).toBe('007°')
  expect(bearing(359.6)).toBe('000°')
  expect(bearing(-12)).toBe('348°')
})

test('a_chance_is_never_said_to_be_certain', () => {
  expect(chance(0)).toContain('<')
  expect(chance(1)).toContain('>')
  expect(chance(0.81)).toBe('81\u00a0%')
})

test('a_walk_takes_at_least_a_minute', () => {
  expect(minutes(4)).toBe('1')
  expect(minutes(247)).toBe('5')
})

test('hours_and_minutes_are_rounded_down', () => {
  expect([2579, 60, 59, -5, 7200].map(hours)).toEqual(['0:42', '0:01', '0:00', '0:00', '2:00'])
})
