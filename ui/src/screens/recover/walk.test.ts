import { beforeEach, expect, test } from 'vitest'
import { fakeBackend, fakeAnswer } from '../../lib/backend/fake'
import type { Backend, WalkStep } from '../../lib/backend'
import type { Device } from '../../lib/device'
import { fakeClock } from '../../lib/device/clock'
import { fakeCompass } from '../../lib/device/compass'
import { fakeMicrophone } from '../../lib/device/microphone'
import { fakeReceiver, NoFix, type Fix } from '../../lib/device/position'
import { fakeSharing } from '../../lib/device/sharing'
import { fakeTone } from '../../lib/device/tone'
import { fakeVibration } from '../../lib/device/vibration'
import { fakeWakeLock } from '../../lib/device/wakelock'
import { Finding } from './find.svelte'
import { Walk } from './walk.svelte'

const HERE: Fix = { lat: 44, lon: -38, accuracy_m: 5, at_ms: 0, speed_mps: 0, course_deg: null }
const STEP: WalkStep = {
  distance_m: 200,
  walk_s: 167,
  bearing_true_deg: 60,
  bearing_magnetic_deg: 72,
  declination_deg: -12,
  stop: [],
  any_marked: true,
}
const part = (() => {
  const it = fakeAnswer('drifted', null).parts[0]
  if (!it) throw new Error('the invented answer has no part')
  return it
})()

const device = () => ({
  clock: fakeClock(),
  compass: fakeCompass(),
  microphone: fakeMicrophone(),
  receiver: fakeReceiver(HERE),
  sharing: fakeSharing(),
  tone: fakeTone(),
  vibration: fakeVibration(),
  wakeLock: fakeWakeLock(),
}) satisfies Device

let it: ReturnType<typeof device>
let step: WalkStep
let backend: Backend
const settled = () => new Promise((done) => setTimeout(done))

beforeEach(() => {
  it = device()
  step = STEP
  backend = { ...fakeBackend(), walkTo: () => Promise.resolve(step) }
})

test('standing_the_arrow_goes_by_the_compass_walking_by_the_steps', async () => {
  const walk = new Walk(backend, it, 'drifted', part)
  const end = walk.begin()
  await settled()
  expect(walk.arrow_deg).toBeNull()
  it.compass.point(42, 0, 100)
  expect(walk.arrow_deg).toBe(30) // 72 magnetic, seen from 42
  it.receiver.move({ ...HERE, lat: 44.00005, at_ms: 5000, speed_mps: 1.4, course_deg: 350 })
  await settled()
  expect(walk.arrow_deg).toBe(70) // 60 true, walking 350
  expect(it.wakeLock.held).toBe(true)
  end()
  expect(it.wakeLock.held).toBe(false)
})

test('a_compass_that_jumps_points_no_arrow', async () => {
  const walk = new Walk(backend, it, 'drifted', part)
  const end = walk.begin()
  await settled()
  for (let i = 0; i < 8; i++) it.compass.point(i % 2 === 0 ? 10 : 90, 0, i * 50)
  expect(walk.compass).toBe('jumps')
  expect(walk.arrow_deg).toBeNull()
  end()
})

test('a_hazard_is_told_once_by_sound_until_the_walker_has_been_clear_of_it', async () => {
  const walk = new Walk(backend, it, 'drifted', part)
  const end = walk.begin()
  await settled()
  step = { ...STEP, stop: [{ kind: 'road', name: null, distance_m: 20 }] }
  for (const [i, metres] of [10, 20].entries()) {
    it.receiver.move({ ...HERE, lat: 44 + metres / 111_195, at_ms: (i + 1) * 8000 })
    await settled()
  }
  expect(it.tone.heard).toEqual(['stop'])
  step = STEP
  it.receiver.move({ ...HERE, at_ms: 30_000 })
  await settled()
  step = { ...STEP, stop: [{ kind: 'water', name: null, distance_m: 9 }] }
  it.receiver.move({ ...HERE, lat: 44.0001, at_ms: 40_000 })
  await settled()
  expect(it.tone.heard).toEqual(['stop', 'stop'])
  end()
})

test('inside_the_accuracy_of_the_receiver_one_is_there', async () => {
  step = { ...STEP, distance_m: 11 }
  const walk = new Walk(backend, it, 'drifted', part)
  const end = walk.begin()
  await settled()
  expect(walk.isThere).toBe(false)
  it.receiver.move({ ...HERE, accuracy_m: 12, at_ms: 9000 })
  await settled()
  expect(walk.isThere).toBe(true)
  const answer = await walk.notHere()
  expect(answer).not.toBeNull()
  const kept = await backend.showFlight('drifted')
  expect(kept.evidence.at(-1)).toMatchObject({ kind: 'sweep', part: part.part })
  end()
})

test('a_find_is_noted_at_the_mean_of_the_places_and_at_none_if_there_is_none', async () => {
  const flight = await backend.showFlight('drifted')
  const finding = new Finding(backend, it, 'drifted', flight, [], part.part)
  const end = finding.begin()
  it.receiver.move({ ...HERE, lat: 44.00002, at_ms: 1000 })
  await finding.whole()
  expect(finding.stage).toBe('found')
  const find = (await backend.showFlight('drifted')).evidence.at(-1)
  expect(find).toMatchObject({ kind: 'find', part: part.part })
  if (find?.kind === 'find') expect(find.at.lat).toBeCloseTo(44.00001, 6)
  end()

  const blind = new Finding(backend, { ...it, receiver: fakeReceiver(new NoFix('denied')) }, 'drifted', flight, [], part.part)
  await blind.whole()
  expect(blind.stage).toBe('what')
  expect(blind.trouble).toContain('does not let')
})

test('after_nothing_opened_the_charge_may_be_live', async () => {
  const finding = new Finding(backend, it, 'drifted', await backend.showFlight('drifted'), [], part.part)
  await finding.whole()
  expect(finding.isLive).toBe(false)
  await finding.describe(null, 'none_opened')
  expect(finding.isLive).toBe(true)
  expect((await backend.showFlight('drifted')).evidence.at(-1)).toMatchObject({ kind: 'saw', mode: 'none_opened', sure: 'think' })
})
