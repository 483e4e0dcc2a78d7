import { expect, test } from 'vitest'
import type { Rocket } from '../../lib/backend/generated'
import { sizeOf } from './size'

const rocket: Rocket = {
  stages: [
    { name: 'lower', diameter_mm: 34, length_mm: { value: 300, known: 'guessed' }, splits_into: [] },
    {
      diameter_mm: 25,
      length_mm: 410,
      splits_into: [
        { name: 'nose', length_mm: 120, carries_recovery: true, carries_motor: false },
        { name: 'fin can', carries_recovery: false, carries_motor: true },
      ],
    },
  ],
}

test('a_part_has_its_own_length_and_is_as_wide_as_its_stage', () => {
  expect(sizeOf(rocket, 'nose')).toEqual({ length_mm: 120, across_mm: 25 })
  // The length of the whole stage is not that of one of its halves.
  expect(sizeOf(rocket, 'fin can')).toEqual({ length_mm: null, across_mm: 25 })
})

test('a_stage_is_as_long_as_it_was_told_under_its_name_or_the_usual_one', () => {
  expect(sizeOf(rocket, 'lower')).toEqual({ length_mm: 300, across_mm: 34 })
  expect(sizeOf(rocket, 'sustainer')).toEqual({ length_mm: 410, across_mm: 25 })
  expect(sizeOf({ stages: [{ length_mm: 200, splits_into: [] }] }, 'rocket')).toEqual({ length_mm: 200, across_mm: null })
  expect(sizeOf(rocket, 'drogue')).toEqual({ length_mm: null, across_mm: null })
})
