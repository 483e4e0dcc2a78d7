import { expect, test, vi } from 'vitest'
import { language } from '../words/language.svelte'
import { area, bearing, decimal, distance, hours, joined, measured, minutes, typed, typedPlace, UNITS_OF, valueOf } from '.'

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

test('a_walk_takes_at_least_a_minute', () => {
  expect(minutes(4)).toBe('1')
  expect(minutes(247)).toBe('5')
})

test('each_quantity_has_its_own_unit_and_goes_there_and_back', () => {
  // International mile and nautical mile, avoirdupois ounce: exact by definition.
  expect(valueOf(1, 'mph')).toBeCloseTo(0.44704, 10)
  expect(valueOf(1, 'kn')).toBeCloseTo(0.514444, 6)
  expect(valueOf(1, 'oz')).toBeCloseTo(28.349523125, 10)
  expect(valueOf(12, 'in')).toBeCloseTo(304.8, 10)
  expect(valueOf(212, '°F')).toBeCloseTo(100, 10)
  expect(joined(measured(3, 'm/s'))).toBe('3\u00a0m/s')
  expect(joined(measured(3, 'mph'))).toBe('6.7\u00a0mph')
  expect(joined(measured(62.4, 'g'))).toBe('62\u00a0g')
  expect(joined(measured(304.8, 'cm'))).toBe('30\u00a0cm')
  expect(joined(measured(21, '°F'))).toBe('70\u00a0°F')
  for (const unit of Object.values(UNITS_OF).flat()) expect(valueOf(Number(measured(300, unit).number), unit), unit).toBeGreaterThan(280)
})

test('a_number_is_typed_with_a_point_or_a_comma_and_nothing_else', () => {
  expect([typed('2.5'), typed(' 2,5 '), typed('12'), typed('-3')]).toEqual([2.5, 2.5, 12, -3])
  expect([typed(''), typed('2,5,1'), typed('two'), typed('1e3')]).toEqual([null, null, null, null])
})

test('spanish_writes_a_decimal_comma', () => {
  language.now = 'es'
  expect(joined(measured(3, 'mph'))).toBe('6,7\u00a0mph')
  expect(joined(distance(1500, 'metric'))).toBe('1,5\u00a0km')
  language.now = 'en'
})

test('hours_and_minutes_are_rounded_down', () => {
  expect([2579, 60, 59, -5, 7200].map(hours)).toEqual(['0:42', '0:01', '0:00', '0:00', '2:00'])
})

test('a_place_is_read_with_points_or_commas_and_whatever_stands_between_latitude_and_longitude', () => {
  const place = { lat: 47.535, lon: 17.29 }
  for (const text of ['47.5350, 17.2900', '47.5350 17.2900', ' 47.535,17.29 ', '47,5350; 17,2900', '47,5350 17,2900', '47.535;17.29', '47,5350,17,2900', '47.535° N 17.29° E', '47.535N,17.29E']) {
    expect(typedPlace(text), text).toEqual(place)
  }
  expect(typedPlace('−36.5, -12')).toEqual({ lat: -36.5, lon: -12 })
  expect(typedPlace('36.5 S 12 W')).toEqual({ lat: -36.5, lon: -12 })
  expect(typedPlace('47, 17')).toEqual({ lat: 47, lon: 17 })
  for (const text of ['', '47.5', '147.5, 17', '47.5, 190', '47.5 17.2 3', 'the barn']) expect(typedPlace(text), text).toBeNull()
})

test('where_the_device_is_at_home_decides_the_decimal_mark_unless_another_language_was_chosen', () => {
  const at = (home: string, now: 'en' | 'es', all = [home]) => {
    vi.stubGlobal('navigator', { language: home, languages: all })
    language.now = now
    return decimal(1.5)
  }
  try {
    // CLDR: Spanish of Spain and German write a comma, Spanish of Mexico and English a point.
    expect([at('es-ES', 'es'), at('es-MX', 'es'), at('en-NZ', 'en'), at('de-DE', 'en')]).toEqual(['1,5', '1.5', '1.5', '1,5'])
    // Read in another language than the device's.
    expect([at('en-NZ', 'es'), at('en-NZ', 'es', ['en-NZ', 'es-MX']), at('es-ES', 'en')]).toEqual(['1,5', '1.5', '1.5'])
    expect(at('en-US@posix', 'en')).toBe('1.5')
  } finally {
    vi.unstubAllGlobals()
    language.now = 'en'
  }
})
