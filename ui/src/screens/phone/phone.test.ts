import { expect, test, vi } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import { fakeClock } from '../../lib/device/clock'
import { thisPhone } from '../../lib/device/phone'
import type { Fix } from '../../lib/device/position'
import { en } from '../../lib/words/en'
import { es } from '../../lib/words/es'
import { NO_LOOK, sightingOf } from '../../parts/aim/look'
import { PhoneCheck } from './phone.svelte'

const PAD = { lat: 47.53, lon: 17.285 }

test('what_is_pointed_with_this_phone_names_it_so_that_its_error_is_learned', () => {
  const seen = sightingOf({ ...NO_LOOK, pointed: { bearing_deg: 70, elevation_deg: 12 } }, 'lost', null, 30)
  expect(seen).toMatchObject({ method: 'phone', phone: thisPhone() })
  expect(thisPhone()).toMatch(/^phone [0-9A-F]{4}$/)
  // By eye no compass errs.
  expect(sightingOf({ ...NO_LOOK, side: 'ahead' }, 'lost', null, 30)).not.toHaveProperty('phone')
})

test('a_check_goes_to_the_core_as_the_phone_showed_it_from_where_it_stood', async () => {
  const backend = fakeBackend()
  const asked = vi.fn(() => Promise.resolve({ id: '1', too_much_deg: 4 }))
  backend.checkHeading = asked
  const check = new PhoneCheck(backend, fakeClock())
  let stand: (fix: Fix) => void = () => undefined
  const left = vi.fn()
  const leave = check.open({ fix: () => Promise.reject(new Error('not asked')), known: () => Promise.resolve(null), watch: (onfix) => ((stand = onfix), left) })
  await check.pointed(94)
  expect(asked).not.toHaveBeenCalled()
  stand({ ...PAD, accuracy_m: 5, at_ms: 0 })
  check.aimAt({ lat: 47.53, lon: 17.29 })
  await check.pointed(94)
  expect(asked).toHaveBeenCalledWith({ phone: thisPhone(), from: expect.objectContaining(PAD) as Fix, accuracy_m: 5, to: { lat: 47.53, lon: 17.29 }, now: '2031-05-11T08:00:00+00:00', bearing_deg: 94, before_deg: null })
  expect(check.too_much_deg).toBe(4)
  // Another thing: what was said of the one before is not said of it.
  check.aimAt({ lat: 47.531, lon: 17.29 })
  expect(check.too_much_deg).toBeNull()
  leave()
  expect(left).toHaveBeenCalled()
})

test('what_no_compass_is_off_is_pointed_again_and_said_to_the_core_with_the_pointing_before', async () => {
  const backend = fakeBackend()
  const asked = vi.fn(({ before_deg }: { before_deg: number | null }) => Promise.resolve({ id: before_deg === null ? null : '1', too_much_deg: 156 }))
  backend.checkHeading = asked
  const check = new PhoneCheck(backend, fakeClock())
  let stand: (fix: Fix) => void = () => undefined
  check.open({ fix: () => Promise.reject(new Error('not asked')), known: () => Promise.resolve(null), watch: (onfix) => ((stand = onfix), () => undefined) })
  stand({ ...PAD, accuracy_m: 5, at_ms: 0 })
  check.aimAt({ lat: 47.53, lon: 17.29 })
  await check.pointed(246)
  expect([check.too_much_deg, check.isDoubted]).toEqual([156, true])
  await check.pointed(246)
  expect(asked).toHaveBeenLastCalledWith(expect.objectContaining({ before_deg: 156 }))
  expect(check.isDoubted).toBe(false)
})

test('without_a_landmark_the_own_shadow_goes_to_the_core_with_the_time_and_never_the_sun', async () => {
  const backend = fakeBackend()
  const asked = vi.fn(() => Promise.resolve({ id: '1', too_much_deg: 12 }))
  backend.checkHeading = asked
  const clock = fakeClock()
  const check = new PhoneCheck(backend, clock)
  let stand: (fix: Fix) => void = () => undefined
  check.open({ fix: () => Promise.reject(new Error('not asked')), known: () => Promise.resolve(null), watch: (onfix) => ((stand = onfix), () => undefined) })
  stand({ ...PAD, accuracy_m: 5, at_ms: 0 })
  check.aimAt('shadow')
  // When it is pointed counts, not when it was chosen.
  clock.push(60)
  await check.pointed(26)
  expect(asked).toHaveBeenCalledWith(expect.objectContaining({ to: 'shadow', now: clock.wall(), bearing_deg: 26 }))
  expect(check.too_much_deg).toBe(12)
  for (const words of [en, es]) expect(words['phone.shadow']).toMatch(/Never look or point at the sun|Nunca mire ni apunte al sol/)
})

test('a_check_is_set_aside_and_used_again_by_the_fact_that_set_it_aside', async () => {
  const backend = fakeBackend()
  const [aside, undo] = [vi.spyOn(backend, 'setAside'), vi.spyOn(backend, 'undo')]
  const check = new PhoneCheck(backend, fakeClock())
  const one = { id: 'a', too_much_deg: 4, noted_at: null, set_aside_by: null }
  await check.setAside(one)
  expect(aside).toHaveBeenCalledWith('a')
  await check.setAside({ ...one, set_aside_by: 'b' })
  expect(undo).toHaveBeenCalledWith('b')
})
