import { readFileSync } from 'node:fs'
import { expect, test } from 'vitest'
import { BEAUFORT_MPS } from './feel'

test('each_word_for_the_wind_has_a_speed_of_its_beaufort_class', () => {
  // Beaufort scale, WMO-No. 8: tests/reference/wmo/wind_beaufort.csv, its limits to half the last printed digit.
  const table = readFileSync(new URL('../../../../tests/reference/wmo/wind_beaufort.csv', import.meta.url), 'utf8')
  const rows = table.split('\n').filter((line) => /^\d/.test(line)).map((line) => line.split(',').map(Number))
  expect(rows).toHaveLength(13)
  for (const [force, mps] of Object.values(BEAUFORT_MPS).entries()) {
    const [given, least, most] = rows[force] ?? []
    expect(given).toBe(force)
    expect(mps).toBeGreaterThanOrEqual((least ?? NaN) - 0.051)
    expect(mps).toBeLessThanOrEqual((most ?? NaN) + 0.051)
  }
})
