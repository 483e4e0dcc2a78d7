import { beforeEach, expect, test } from 'vitest'
import { fakeBackend, fakeAnswer } from '../../lib/backend/fake'
import type { Backend, WalkStep } from '../../lib/backend'
import type { Answer, Flight, Sentence } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { fakeBattery } from '../../lib/device/battery'
import { across, fakeCamera } from '../../lib/device/camera'
import { fakeClock } from '../../lib/device/clock'
import { fakeCompass } from '../../lib/device/compass'
import { fakeHeat } from '../../lib/device/heat'
import { fakeMicrophone } from '../../lib/device/microphone'
import { fakeReceiver, NoFix, type Fix } from '../../lib/device/position'
import { fakeSharing } from '../../lib/device/sharing'
import { fakeTone } from '../../lib/device/tone'
import { fakeVibration } from '../../lib/device/vibration'
import { fakeWakeLock } from '../../lib/device/wakelock'
import { fakeBase } from './base'
import { Finding } from './find.svelte'
import { Walk, wasSearched } from './walk.svelte'

const HERE: Fix = { lat: 44, lon: -38, accuracy_m: 5, at_ms: 0, speed_mps: 0, course_deg: null }
const STEP: WalkStep = {
  approach: { lat: 44.001, lon: -38, caution: null, said: null },
  short_m: 0,
  distance_m: 200,
  walk_s: 167,
  bearing_true_deg: 60,
  bearing_magnetic_deg: 72,
  declination_deg: -12,
  doubt_deg: 10,
  stop: [],
  any_marked: true,
  home_m: 150,
}
const PAD = { lat: 44, lon: -38.001 }
const part = (() => {
  const it = fakeAnswer('drifted', null).parts[0]
  if (!it) throw new Error('the invented answer has no part')
  return it
})()

const device = () => ({
  battery: fakeBattery(),
  camera: fakeCamera(),
  clock: fakeClock(),
  compass: fakeCompass(),
  heat: fakeHeat(),
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
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
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
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  await settled()
  for (let i = 0; i < 8; i++) it.compass.point(i % 2 === 0 ? 10 : 90, 0, i * 50)
  expect(walk.compass).toBe('jumps')
  expect(walk.arrow_deg).toBeNull()
  end()
})

test('a_hazard_is_told_once_by_sound_until_the_walker_has_been_clear_of_it', async () => {
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
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
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  await settled()
  expect(walk.isThere).toBe(false)
  it.receiver.move({ ...HERE, accuracy_m: 12, at_ms: 9000 })
  await settled()
  expect(walk.isThere).toBe(true)
  expect(it.tone.heard).toEqual(['there'])
  it.compass.point(42, 0, 9100)
  expect(walk.arrow_deg).not.toBeNull()
  // Tapped twice while it is worked out, it is noted once.
  const before = (await backend.showFlight('drifted')).evidence.length
  const first = walk.notHere()
  expect(walk.isNoting).toBe(true)
  expect(await walk.notHere()).toBeNull()
  expect(await first).not.toBeNull()
  expect(walk.isNoting).toBe(false)
  const kept = await backend.showFlight('drifted')
  expect(kept.evidence.length).toBe(before + 1)
  expect(kept.evidence.at(-1)).toMatchObject({ kind: 'sweep', part: part.part })
  // Nothing leads back to where nothing lay; the way home does lead.
  expect([walk.isSearched, walk.arrow_deg]).toEqual([true, null])
  walk.leadTo({ ...part, regions: [] })
  expect(walk.isSearched).toBe(true)
  walk.turnRound()
  await settled()
  expect([walk.isSearched, walk.arrow_deg === null]).toEqual([false, false])
  walk.turnRound()
  walk.leadTo({ ...part, aim: { ...part.aim, lat: part.aim.lat + 0.001 } })
  expect(walk.isSearched).toBe(false)
  end()
})

test('at_a_standing_point_short_of_it_one_is_not_there_but_told_to_stop', async () => {
  const said: Sentence = { say: 'stop_here', what: { say: 'the_trees' }, advice: { say: 'do_not_climb' } }
  step = { ...STEP, distance_m: 4, short_m: 30, approach: { ...STEP.approach, said } }
  const asked: unknown[] = []
  const watched: Backend = { ...backend, walkTo: (...all) => (asked.push(all.slice(3)), Promise.resolve(step)) }
  const walk = new Walk(watched, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  await settled()
  // The way is asked for to the place itself, to end short of what lies across it from here.
  expect(asked).toEqual([[part.aim, PAD, true]])
  expect([walk.isThere, walk.stopsFor]).toEqual([true, said])
  expect([walk.stand, it.tone.heard]).toEqual([step.approach, ['stop']])
  // On the way back nothing is short of anything.
  walk.turnRound()
  await settled()
  expect(asked.at(-1)).toEqual([PAD, PAD, false])
  expect([walk.stopsFor, walk.stand]).toEqual([null, PAD])
  end()
})

test('a_place_that_was_searched_on_an_earlier_walk_is_known_as_such', async () => {
  const flight = await backend.showFlight('drifted')
  const { lat, lon } = part.approach
  const swept = (to: number) => ({ ...flight, evidence: [{ kind: 'sweep' as const, part: part.part, path: [[null, lat - 0.01, lon, 5], [null, lat + to, lon, 5]] as [null, number, number, number][], set_aside: false }] })
  expect(wasSearched(flight, part)).toBe(false)
  expect(wasSearched(swept(0.0001), part)).toBe(true) // 11 m
  expect(wasSearched(swept(0.0002), part)).toBe(false)
  expect(wasSearched(swept(0), { ...part, part: 'another' })).toBe(false)
})

test('in_the_pocket_it_buzzes_when_the_steps_leave_the_line_and_not_too_often', async () => {
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  await settled()
  const go = (course_deg: number, at_ms: number) => {
    it.receiver.move({ ...HERE, lat: HERE.lat + at_ms * 1.2e-8, at_ms, speed_mps: 1.3, course_deg })
  }
  go(90, 1000)
  expect(it.vibration.felt).toEqual([]) // 30 degrees off, yet the phone is in the hand
  walk.pocket(true)
  go(74, 2000)
  go(46, 3000)
  expect(it.vibration.felt).toEqual(['taken']) // 14 degrees to either side
  go(76, 4000)
  expect(it.vibration.felt).toEqual(['taken', 'off'])
  go(90, 5000)
  expect(it.tone.heard).toEqual(['off'])
  it.clock.push(5)
  go(44, 6000)
  expect(it.tone.heard).toEqual(['off', 'off'])
  end()
})

test('the_way_back_leads_to_the_pad_until_the_car_is_marked', async () => {
  const keep = fakeBase()
  const walk = new Walk(backend, it, 'drifted', part, PAD, keep)
  const end = walk.begin()
  await settled()
  expect(walk.to).toEqual(part.aim)
  walk.turnRound()
  await settled()
  expect(walk.to).toEqual(PAD)
  walk.markBase()
  expect(keep.read()).toEqual({ lat: HERE.lat, lon: HERE.lon })
  expect(walk.to).toEqual({ lat: HERE.lat, lon: HERE.lon })
  walk.turnRound()
  await settled()
  expect(walk.to).toEqual(part.aim)
  expect(walk.step).not.toBeNull()
  end()
})

test('from_thirty_degrees_on_a_drink_is_due_every_twenty_minutes', async () => {
  backend = { ...backend, showFlight: async (id) => ({ ...(await fakeBackend().showFlight(id)), air: { temperature_c: 31 } }) }
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  await settled()
  expect(walk.isHot).toBe(true)
  it.clock.push(1199)
  it.receiver.move({ ...HERE, at_ms: 1000 })
  expect(walk.thirsty).toBe(false)
  it.clock.push(2)
  it.receiver.move({ ...HERE, at_ms: 2000 })
  expect(walk.thirsty).toBe(true)
  expect(it.tone.heard).toEqual(['drink'])
  walk.drank()
  it.receiver.move({ ...HERE, at_ms: 3000 })
  expect(walk.thirsty).toBe(false)
  end()
})

test('said_to_be_hot_it_is_hot_on_every_walk_of_the_day_until_somebody_takes_it_back', async () => {
  const keep = fakeBase()
  const walk = new Walk(backend, it, 'drifted', part, PAD, keep)
  const end = walk.begin()
  await settled()
  expect(walk.isHot).toBe(false)
  walk.sayHot(true)
  it.clock.push(1201)
  it.receiver.move({ ...HERE, at_ms: 1000 })
  expect([walk.isHot, walk.thirsty]).toEqual([true, true])
  end()
  const next = new Walk(backend, it, 'drifted', part, PAD, keep)
  expect(next.isHot).toBe(true)
  next.sayHot(false)
  expect([next.isHot, new Walk(backend, it, 'drifted', part, PAD, keep).isHot]).toEqual([false, false])
})

test('of_a_rocket_in_parts_the_one_that_was_walked_to_is_offered_first_and_nothing_is_asked_twice', async () => {
  const told = await fakeBackend().showFlight('apart')
  const names = ['upper', 'lower']
  const stages = [{ splits_into: names.map((name) => ({ name })) }]
  const flight = { ...told, rocket: { ...told.rocket, stages } } as unknown as Flight
  const sought = 'lower'
  const finding = new Finding(backend, it, 'apart', flight, [], sought)
  expect([finding.isDeclared, finding.isOnePart]).toEqual([true, false])
  expect(finding.open).toEqual(['lower', 'upper'])
  // With one in hand the other is the only one left to pick up.
  const second = new Finding(backend, it, 'apart', flight, [sought], 'upper')
  expect([second.isOnePart, second.open]).toEqual([true, ['upper']])
})

test('a_battery_that_is_nearly_empty_is_spared_unless_it_is_being_charged', () => {
  const walk = new Walk(backend, it, 'drifted', part, PAD, fakeBase())
  const end = walk.begin()
  it.battery.is(0.15)
  expect(walk.low).toBeNull()
  it.battery.is(0.14)
  expect(walk.low).toBe(0.14)
  it.battery.is(0.14, true)
  expect(walk.low).toBeNull()
  end()
})

test('a_direction_shows_where_a_pinhole_camera_puts_it', () => {
  // Half of the 66 degrees of the long side: at the edge of it.
  const frame = { width: 400, height: 300 }
  expect(across(33, frame, { width: 1600, height: 1200 })).toBeCloseTo(200, 6)
  expect(across(0, frame, null)).toBe(0)
  // Held upright the long side of the picture fills the height.
  expect(across(33, { width: 300, height: 400 }, { width: 900, height: 1200 })).toBeCloseTo(200, 6)
  expect(across(100, frame, null)).toBeNull()
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

test('a_find_is_in_the_logbook_before_the_answer_is_worked_out_and_a_height_stands_beside_what_was_expected', async () => {
  let work: ((answer: Answer) => void) | undefined
  const slow: Backend = { ...backend, locateFlight: () => new Promise((done) => (work = done)) }
  const finding = new Finding(slow, it, 'drifted', await backend.showFlight('drifted'), [], part.part)
  await finding.whole()
  expect([finding.stage, finding.noting, finding.working, finding.answer]).toEqual(['found', false, true, null])
  const early = work
  await finding.height(212)
  expect([finding.apogee_m, finding.expected?.low_m, finding.expected?.high_m]).toEqual([212, 150, 260])
  expect((await backend.showFlight('drifted')).evidence.map((piece) => piece.kind)).toEqual(['find', 'altimeter'])
  // The answer asked for first knows nothing of the height: it does not count.
  early?.(fakeAnswer('drifted', null))
  await settled()
  expect([finding.working, finding.answer]).toEqual([true, null])
  work?.(fakeAnswer('drifted', null))
  await settled()
  expect([finding.working, finding.answer?.flight]).toEqual([false, 'drifted'])
})

test('after_nothing_opened_the_charge_may_be_live', async () => {
  const finding = new Finding(backend, it, 'drifted', await backend.showFlight('drifted'), [], part.part)
  await finding.whole()
  expect(finding.isLive).toBe(false)
  await finding.describe(null, 'none_opened')
  expect(finding.isLive).toBe(true)
  expect((await backend.showFlight('drifted')).evidence.at(-1)).toMatchObject({ kind: 'saw', mode: 'none_opened', sure: 'think' })
  // Said once more, or with another word, it is the same word corrected.
  await finding.describe(null, 'none_opened', 'sure')
  await finding.describe(null, 'tangled')
  const said = (await backend.showFlight('drifted')).evidence.flatMap((piece) => (piece.kind === 'saw' ? [[piece.mode, piece.sure]] : []))
  expect(said).toEqual([['tangled', 'sure']])
})
