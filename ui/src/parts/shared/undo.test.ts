import { expect, test } from 'vitest'
import type { StoryLine } from '../../lib/backend/calm'
import { lastTold } from './undo'

const line = (what: StoryLine['what'], word: string | null, part: string | null = null, set_aside_by: string | null = null): StoryLine => ({
  what, word, part, set_aside_by, t_s: null, saw: null, distance_m: null, bearing_magnetic_deg: null, height_m: null, note: null,
})

test('what_is_taken_back_is_what_is_named', () => {
  const lines = [line('found', '03', 'nose'), line('altimeter', '04'), line('searched', '02', 'booster'), line('found', '01', 'booster'), line('launched', null)]
  expect(lastTold(lines, ['found'])).toEqual({ word: '03', said: 'Noted: nose with the chute found.' })
  // The altimeter was read after the find: that is named, and not ground that nobody walked.
  expect(lastTold(lines, ['found', 'altimeter'])).toEqual({ word: '04', said: 'Noted: the altimeter.' })
  expect(lastTold(lines, ['searched', 'ruled_out'])).toEqual({ word: '02', said: 'Noted: booster not here.' })
})

test('what_is_set_aside_or_in_no_logbook_is_not_offered', () => {
  expect(lastTold([line('found', '03', 'nose', '05'), line('found', null, 'nose'), line('found', '01', 'booster')], ['found'])?.word).toBe('01')
  expect(lastTold([line('found', null, 'nose')], ['found'])).toBeNull()
})
