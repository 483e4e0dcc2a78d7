import { beforeEach, expect, test } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import { fleetRocket, loadedOf } from '../../lib/backend/fakeCalm'
import type { Evidence, Flight } from '../../lib/backend/generated'
import { fakeBattery } from '../../lib/device/battery'
import { fakeCamera } from '../../lib/device/camera'
import { fakeClock } from '../../lib/device/clock'
import { fakeCompass } from '../../lib/device/compass'
import { fakeHeat } from '../../lib/device/heat'
import { fakeMicrophone } from '../../lib/device/microphone'
import { fakeReceiver } from '../../lib/device/position'
import { fakeSharing } from '../../lib/device/sharing'
import { fakeTone } from '../../lib/device/tone'
import { fakeVibration } from '../../lib/device/vibration'
import { fakeWakeLock } from '../../lib/device/wakelock'
import { FEET_S, Fly, WAIT_S, type Keep } from './fly.svelte'

const device = () => ({
  battery: fakeBattery(),
  camera: fakeCamera(),
  clock: fakeClock(),
  compass: fakeCompass(),
  heat: fakeHeat(),
  microphone: fakeMicrophone(),
  receiver: fakeReceiver({ lat: 44, lon: -38, accuracy_m: 4, at_ms: 0 }),
  sharing: fakeSharing(),
  tone: fakeTone(),
  vibration: fakeVibration(),
  wakeLock: fakeWakeLock(),
})
const memory = (): Keep => {
  let text: string | null = null
  return { read: () => text, write: (it) => (text = it) }
}

let it: ReturnType<typeof device>
let keep: Keep
let backend: ReturnType<typeof fakeBackend>
let fly: Fly
let end: () => void

/** A flight that is ready, with the opening expected at 7 s, the latest at 9, down unopened at 14. */
async function ready(): Promise<void> {
  fly = new Fly(backend, it, keep)
  end = fly.begin('rear camera')
  fly.choose(null, 'C')
  await new Promise((done) => setTimeout(done))
}

/** Time goes on, the phone pointing at something that drifts. */
function wait(seconds: number): void {
  for (let i = 0; i < seconds * 10; i++) {
    it.clock.push(0.1)
    it.compass.point(70 + fly.t_s, 20, it.clock.now_ms())
    fly.tick()
  }
}

/** The flight as it is known once it is answered. */
const answered = async (): Promise<Flight | null> => {
  const handed = await fly.handOver()
  if (!handed) return null
  await handed.answer()
  return backend.showFlight(handed.id)
}
const evidence = async (): Promise<Evidence[]> => {
  return (await answered())?.evidence ?? []
}

beforeEach(async () => {
  it = device()
  keep = memory()
  backend = fakeBackend()
  await ready()
  return () => {
    end()
  }
})

test('one_beep_when_it_should_open_then_a_question_and_a_call_when_nobody_answers', () => {
  fly.press()
  wait(6.8)
  expect(it.tone.heard).toEqual([])
  expect(fly.asking).toBe(false)
  wait(0.4)
  expect(it.tone.heard).toEqual(['opening'])
  expect(it.vibration.felt.filter((name) => name === 'opening')).toHaveLength(1)
  expect(fly.asking).toBe(true)
  wait(2)
  expect(it.tone.heard).toEqual(['opening', 'asked'])
  expect(it.vibration.felt).toContain('asked')
  wait(1.6)
  expect(fly.headsUp).toBe(false)
  wait(0.5)
  expect(fly.call).toBe('silence') // 2 s after the latest: from then on 3 s are left until it must be down
  expect(fly.asking).toBe(false)
  expect(it.tone.heard).toEqual(['opening', 'asked', 'heads_up'])
  expect(it.vibration.felt).toContain('heads_up')
  wait(3)
  expect(it.tone.heard.filter((name) => name === 'heads_up').length).toBeGreaterThan(1)
  fly.chuteOut()
  fly.tick()
  expect(fly.headsUp).toBe(false)
})

test('a_no_is_called_out_at_once_and_taken_back_when_it_opens_after_all', async () => {
  fly.press()
  wait(7.5)
  fly.isOut('no')
  expect(fly.call).toBe('no')
  expect(it.tone.heard).toEqual(['opening', 'heads_up'])
  wait(3)
  expect(it.tone.heard.filter((name) => name === 'heads_up')).toHaveLength(2)
  fly.chuteOut()
  wait(0.2)
  expect(fly.headsUp).toBe(false)
  fly.lift()
  fly.gone('landed')
  expect((await evidence()).flatMap((piece) => (piece.kind === 'saw' ? [piece.mode] : []))).toEqual(['opened'])
})

test('a_yes_when_asked_keeps_it_quiet_and_is_no_time_of_opening', async () => {
  fly.press()
  wait(8)
  fly.chuteOut() // a second finger, with the question open
  expect(fly.asking).toBe(false)
  wait(8)
  expect(it.tone.heard).toEqual(['opening'])
  fly.lift()
  fly.gone('landed')
  const told = await evidence()
  expect(told.some((piece) => piece.kind === 'sighting' && piece.moment === 'deployment')).toBe(false)
  expect(told.some((piece) => piece.kind === 'saw' && piece.mode === 'opened' && piece.sure === 'sure')).toBe(true)
})

test('what_nobody_sees_is_called_once_when_it_is_late', () => {
  fly.press()
  wait(7.5)
  fly.isOut('unseen')
  wait(1)
  expect(fly.headsUp).toBe(false)
  wait(1)
  expect(fly.call).toBe('unseen')
  wait(6)
  expect(fly.call).toBe('unseen')
  expect(it.tone.heard).toEqual(['opening', 'heads_up'])
  wait(6)
  expect(fly.call).toBe(null) // it must be down
})

test('what_it_did_is_told_in_one_word_and_the_wind_goes_with_the_flight', async () => {
  fly.press()
  wait(5)
  fly.chuteOut()
  fly.lift()
  fly.gone('far')
  expect(fly.windless).toBe(true)
  fly.takeWind('ne', 'b3')
  fly.did = 'came_apart'
  expect(fly.sure).toBe('think') // said without another tap
  fly.sure = 'told'
  const flight = await answered()
  expect(flight?.evidence.flatMap((piece) => (piece.kind === 'saw' ? [[piece.mode, piece.sure]] : []))).toEqual([['came_apart', 'told']])
  expect(flight?.wind).toMatchObject([{ from_deg: 225, method: 'feel', speed_mps: 4.34 }])
})

test('the_pad_is_where_the_phone_stands_unless_one_tap_says_otherwise', async () => {
  expect(fly.pad).toMatchObject({ place: 'here', accuracy_m: 5 })
  fly.movePad()
  expect(fly.pad).toMatchObject({ place: 'near', accuracy_m: 100 })
  fly.press()
  wait(1)
  fly.gone('far')
  expect((await answered())?.pad.accuracy_m).toBe(100)
})

test('a_chute_reported_in_time_keeps_it_quiet', () => {
  fly.press()
  wait(7.5)
  fly.chuteOut()
  wait(8)
  expect(it.tone.heard).toEqual(['opening'])
})

test('what_is_seen_to_fall_is_called_out_before_the_time_is_up_and_no_more_once_the_chute_is_out', async () => {
  const asked: number[] = []
  backend.watchFall = () => {
    asked.push(fly.t_s)
    return Promise.resolve({ p_unopened: 0.8, heads_up: true })
  }
  const settled = () => new Promise((done) => setTimeout(done))
  fly.press()
  wait(3)
  await settled()
  expect(asked).toEqual([]) // on the way up
  wait(2)
  await settled()
  expect(asked.length).toBeGreaterThan(0)
  expect(fly.call).toBe('falls')
  expect(it.tone.heard).toEqual(['heads_up'])
  expect(it.vibration.felt).toContain('heads_up')
  fly.chuteOut()
  wait(3)
  await settled()
  expect(fly.headsUp).toBe(false)
})

test('what_was_followed_reaches_the_core_as_one_track_with_what_was_reported', async () => {
  fly.press()
  wait(5)
  fly.chuteOut()
  wait(3)
  fly.lift()
  expect(fly.phase).toBe('asked')
  wait(2)
  fly.press() // within 3 s: the same track
  wait(4)
  fly.lift()
  fly.gone('behind')
  const told = await evidence()
  const tracks = told.filter((piece) => piece.kind === 'track')
  expect(tracks).toHaveLength(1)
  const times = tracks[0]?.samples.map((sample) => sample[0]) ?? []
  expect(times.length).toBeGreaterThan(40)
  expect(times.every((t_s, i) => i === 0 || t_s > (times[i - 1] ?? NaN))).toBe(true)
  expect(times.some((t_s) => t_s > 8.2 && t_s < 9.8)).toBe(false)
  const moments = told.flatMap((piece) => (piece.kind === 'sighting' ? [[piece.moment, Math.round(piece.t_s ?? NaN), piece.north]] : []))
  expect(moments).toEqual([['deployment', 5, 'magnetic'], ['lost', 14, 'magnetic']])
  expect(told.some((piece) => piece.kind === 'saw' && piece.mode === 'opened')).toBe(true)
})

test('holding_again_after_three_seconds_is_another_track', async () => {
  fly.press()
  wait(3)
  fly.lift()
  wait(4)
  fly.press()
  wait(3)
  fly.lift()
  fly.gone('landed')
  const told = await evidence()
  expect(told.filter((piece) => piece.kind === 'track')).toHaveLength(2)
  expect(told.some((piece) => piece.kind === 'sighting' && piece.moment === 'landed')).toBe(true)
})

test('what_did_not_light_leaves_no_flight_and_is_ready_after_a_minute', async () => {
  const before = (await backend.listFlights()).length
  fly.press()
  it.clock.push(0.2)
  fly.lift() // a tap
  expect(fly.phase).toBe('flying')
  fly.didNotLight()
  fly.tick()
  expect(fly.wait_s).toBe(WAIT_S)
  it.clock.push(61)
  fly.tick()
  expect(fly.wait_s).toBe(0)
  fly.again()
  expect(fly.phase).toBe('ready')
  expect(keep.read()).toBeNull()
  expect((await backend.listFlights()).length).toBe(before)
  expect(it.wakeLock.held).toBe(false)
})

test('the_sound_of_the_ignition_is_when_it_went_up', async () => {
  await fly.listen()
  // The screen stays lit while it waits, and no longer.
  expect(it.wakeLock.held).toBe(true)
  await fly.listen()
  expect(it.wakeLock.held).toBe(false)
  await fly.listen()
  for (let i = 0; i < 30; i++) it.microphone.level(-50)
  expect(fly.phase).toBe('ready')
  for (let i = 0; i < 10; i++) it.microphone.level(-10)
  expect(fly.phase).toBe('flying')
  expect(fly.t_s).toBeCloseTo(0.1, 6) // it is known to have begun five blocks before it was settled
  expect(fly.listening).toBe(false)
  wait(2)
  fly.gone('far')
  expect((await answered())?.launch.timed_by).toBe('sound')
})

test('a_launch_remembered_afterwards_says_so', async () => {
  fly.press()
  fly.lift()
  fly.wentUp(20)
  fly.tick()
  expect(fly.t_s).toBe(20)
  fly.gone('far')
  expect((await answered())?.launch).toMatchObject({ timed_by: 'recalled', at: '2031-05-11T07:59:40+00:00' })
})

test('a_phone_that_lay_flat_while_it_was_held_has_pointed_at_nothing', async () => {
  fly.press()
  for (let i = 0; i < 20; i++) {
    it.clock.push(0.1)
    it.compass.point(70, -90, it.clock.now_ms())
    fly.tick()
  }
  fly.lift()
  fly.gone('far')
  const told = await evidence()
  expect(told.flatMap((piece) => (piece.kind === 'sighting' ? [piece.elevation_deg] : []))).toEqual([null])
  expect(told.some((piece) => piece.kind === 'track')).toBe(false)
})

test('walking_while_it_is_held_buzzes', () => {
  fly.press()
  it.receiver.move({ lat: 44.00001, lon: -38, accuracy_m: 4, speed_mps: 1.4, at_ms: 1000 })
  expect(fly.walking).toBe(true)
  expect(it.vibration.felt).toContain('still')
  it.receiver.move({ lat: 44.00001, lon: -38, accuracy_m: 4, speed_mps: 0, at_ms: 2000 })
  expect(fly.walking).toBe(false)
})

test('a_flight_in_the_air_goes_on_after_the_program_was_ended', async () => {
  fly.press()
  wait(3)
  fly.lift()
  await new Promise((done) => setTimeout(done))
  end()
  it.clock.push(14)
  expect(Fly.wasFlying(keep, it.clock)).toBe(true)
  const again = new Fly(backend, it, keep)
  const endAgain = again.begin('rear camera')
  expect(again.phase).toBe('asked') // it may be down: that can be said at once
  expect(again.t_s).toBeCloseTo(17, 0)
  expect(again.away_s).toBe(14)
  endAgain()
  it.clock.push(1000)
  expect(Fly.wasFlying(keep, it.clock)).toBe(false)
})

/** Two rockets of today's load, with pad and wind. */
function loaded(): void {
  const of = (rocket: string, name: string, motor: string) => ({
    rocket,
    name,
    has_pad: true,
    loaded: { ...loadedOf(fleetRocket(rocket, { name, stages: [] })), motor },
    flight: {
      format: 'windfall-flight/1', id: null, title: null, pad: { lat: 44, lon: -38, accuracy_m: 3 }, field: { name: 'Long Fallow', hazards: [] }, air: null,
      wind: [{ from_deg: 240, speed_mps: 2.4, north: 'true', method: 'feel' }], rocket: { name, stages: [{ motor, splits_into: [] }] },
      launch: { at: null }, evidence: [],
    } as unknown as Flight,
  })
  backend.readyFlights = () => Promise.resolve([of('1', 'Linnet', 'C6-5'), of('2', 'Bunting', 'B6-4')])
}

test('after_a_misfire_the_rocket_flies_that_was_taken_to_the_pad_then_with_its_motor_and_the_wind', async () => {
  loaded()
  end()
  fly = new Fly(backend, it, keep, '1')
  end = fly.begin('rear camera')
  await new Promise((done) => setTimeout(done))
  expect(fly.rocket?.name).toBe('Linnet')
  fly.launch('tap')
  fly.didNotLight()
  // While the minute runs, another one is made ready.
  fly.wants('2')
  end()
  end = fly.begin('rear camera')
  await new Promise((done) => setTimeout(done))
  expect([fly.phase, keep.read()]).toEqual(['unlit', null])
  it.clock.push(WAIT_S)
  fly.tick()
  fly.again()
  await new Promise((done) => setTimeout(done))
  fly.launch('tap')
  expect(fly.flown).toMatchObject({ rocket: { name: 'Bunting', stages: [{ motor: 'B6-4' }] }, wind: [{ speed_mps: 2.4 }] })
})

test('the_lean_and_the_motor_of_the_plan_go_up_with_it_and_the_rod_leans_into_the_wind_that_is_felt_later', async () => {
  loaded()
  const [first] = await backend.readyFlights()
  const launch = { at: null, rod: { tilt_deg: { value: 10, known: 'guessed' as const }, toward_deg: null, north: 'true' as const } }
  backend.readyFlights = () => Promise.resolve(first ? [{ ...first, flight: { ...first.flight, wind: [], launch } }] : [])
  const told: Flight[] = []
  const tell = backend.tellFlight
  backend.tellFlight = (flight) => { told.push(flight); return tell(flight) }
  end()
  fly = new Fly(backend, it, keep, '1')
  end = fly.begin('rear camera')
  await new Promise((done) => setTimeout(done))
  fly.launch('tap')
  expect(fly.flown).toMatchObject({ rocket: { stages: [{ motor: 'C6-5' }] }, launch: { rod: { tilt_deg: { value: 10 }, toward_deg: null } } })
  fly.gone('landed')
  fly.takeWind('e', 'b2')
  await fly.handOver()
  expect(told.at(-1)).toMatchObject({ launch: { rod: { tilt_deg: { value: 10 }, toward_deg: 270, north: 'true' } } })
})

test('a_launch_before_the_fleet_was_read_is_of_the_rocket_that_was_taken_to_the_pad', async () => {
  loaded()
  end()
  fly = new Fly(backend, it, keep, '2')
  end = fly.begin('rear camera')
  fly.launch('tap')
  expect(fly.flown?.rocket.name).toBeUndefined()
  await new Promise((done) => setTimeout(done))
  expect(fly.flown).toMatchObject({ rocket: { name: 'Bunting' }, wind: [{ speed_mps: 2.4 }] })
})

test('another_rocket_of_which_only_the_letter_is_known_keeps_pad_field_and_wind', async () => {
  loaded()
  end()
  fly = new Fly(backend, it, keep, '1')
  end = fly.begin('rear camera')
  await new Promise((done) => setTimeout(done))
  fly.choose(null, 'C')
  fly.launch('tap')
  expect(fly.flown).toMatchObject({ pad: { accuracy_m: 3 }, field: { name: 'Long Fallow' }, wind: [{ speed_mps: 2.4 }], rocket: { stages: [{ motor: 'C' }] } })
})

test('a_false_touch_is_taken_back_from_the_core_and_leaves_no_wait', async () => {
  const gone: string[] = []
  fly = new Fly({ ...backend, takeBackFlight: (id) => { gone.push(id); return backend.takeBackFlight(id) } }, it, keep)
  end = fly.begin('rear camera')
  await new Promise((done) => setTimeout(done))
  fly.press()
  wait(1.2)
  fly.lift()
  expect(fly.phase).toBe('asked')
  await new Promise((done) => setTimeout(done))
  const { id, launch } = fly.flown ?? {}
  const begunAt = launch?.at
  expect(id).toBeTruthy()
  fly.wasNothing()
  await new Promise((done) => setTimeout(done))
  expect(gone).toEqual([id])
  expect([fly.phase, fly.flown, keep.read()]).toEqual(['ready', null, null])
  // What comes next is a flight of its own.
  fly.press()
  wait(1.2)
  fly.lift()
  fly.gone('far')
  const next = await answered()
  expect(next?.launch.at).not.toBe(begunAt)
  expect(next?.evidence.filter((piece) => piece.kind === 'track')).toHaveLength(1)
})

test('samples_on_their_way_when_it_is_taken_back_begin_nothing', async () => {
  fly.press()
  wait(1.2)
  fly.didNotLight()
  await new Promise((done) => setTimeout(done))
  expect(fly.flown?.id ?? null).toBe(null)
  expect((await backend.listFlights()).some((line) => line.id.startsWith('told'))).toBe(false)
})

test('a_flight_that_is_handed_over_is_over_and_one_that_cannot_be_told_is_not', async () => {
  fly.press()
  wait(2)
  fly.lift()
  fly.gone('far')
  const failing = { ...backend, addEvidence: () => Promise.reject(new Error('no')) }
  const handed = await fly.handOver()
  expect(Fly.wasFlying(keep, it.clock)).toBe(true)
  const told = handed?.answer()
  expect(Fly.wasFlying(keep, it.clock)).toBe(false) // however long the answer takes
  await told
  expect(Fly.wasFlying(keep, it.clock)).toBe(false)

  fly = new Fly(failing, it, keep)
  end = fly.begin('rear camera')
  fly.press()
  wait(2)
  fly.lift()
  fly.gone('far')
  const lost = await fly.handOver()
  await expect(lost?.answer()).rejects.toThrow()
  expect(Fly.wasFlying(keep, it.clock)).toBe(true)
})

test('where_it_went_can_be_said_anew_and_is_known_after_the_program_was_ended', async () => {
  fly.press()
  wait(2)
  fly.lift()
  fly.gone('behind')
  fly.askAgain()
  expect(fly.phase).toBe('asked')
  fly.gone('landed')
  end()
  fly = new Fly(backend, it, keep)
  end = fly.begin('rear camera')
  expect(fly.phase).toBe('pointing')
  const moments = (await evidence()).flatMap((piece) => (piece.kind === 'sighting' ? [piece.moment] : []))
  expect(moments).toEqual(['landed'])
})

test('in_parts_the_heavy_one_is_what_was_followed_and_the_parts_are_declared', async () => {
  fly.press()
  wait(2)
  fly.lift()
  fly.gone('landed')
  fly.cameDown('heavy')
  expect(fly.did).toBe('came_apart')
  const flight = await answered()
  expect(flight?.rocket.stages[0]?.splits_into.map((part) => part.name)).toEqual(['nose', 'fin can'])
  expect(flight?.evidence.map((piece) => ('part' in piece ? piece.part : piece.kind))).toEqual(['fin can', 'fin can', 'saw'])
  fly.cameDown('one')
  expect(fly.did).toBe(null)
})

test('a_rocket_that_has_no_field_yet_flies_from_where_the_flyer_stands', async () => {
  const flight: Flight = {
    format: 'windfall-flight/1', id: null, title: null, pad: { lat: 0, lon: 0, accuracy_m: 1e6 }, field: null, air: null, wind: [],
    rocket: { id: 'plover', name: 'Plover', stages: [] }, launch: { at: null }, evidence: [],
  }
  const anywhere = { rocket: 'plover', name: 'Plover', flight, has_pad: false, loaded: loadedOf(fleetRocket('plover', flight.rocket)) }
  const begun = async (ready: (typeof anywhere)[]) => {
    end()
    fly = new Fly({ ...backend, readyFlights: () => Promise.resolve(ready), listFlights: () => Promise.resolve([]) }, it, keep)
    end = fly.begin('rear camera')
    await new Promise((done) => setTimeout(done))
  }
  await begun([anywhere])
  expect(fly.rocket?.name).toBe('Plover')
  expect(fly.pad).toMatchObject({ place: 'here', lat: 44, lon: -38 })
  await begun([anywhere, { ...anywhere, rocket: 'other', name: 'Other' }])
  expect([fly.rocket, fly.rockets.length]).toEqual([null, 2]) // which of them, nobody can guess
})

test('the_zero_of_the_countdown_is_when_it_goes_up_and_a_finger_that_waits_follows_it', async () => {
  fly.countDown()
  expect(fly.count_s).toBe(5)
  wait(2.5)
  expect([fly.count_s, fly.phase]).toEqual([3, 'ready'])
  fly.press() // down before zero: no launch, it waits
  expect(fly.phase).toBe('ready')
  wait(2.6)
  expect([fly.phase, fly.seeing, fly.count_s]).toEqual(['flying', true, null])
  expect(fly.t_s).toBeLessThan(0.2)
  expect(it.tone.heard).toEqual(['count', 'count', 'count', 'count', 'count', 'zero'])
  expect(it.vibration.felt).toContain('zero')
  wait(2)
  fly.lift()
  fly.gone('far')
  expect((await answered())?.launch).toMatchObject({ timed_by: 'countdown', at: '2031-05-11T08:00:05+00:00' })
})

test('a_countdown_that_is_stopped_launches_nothing', () => {
  fly.countDown()
  wait(2)
  fly.countDown()
  wait(5)
  expect([fly.phase, fly.count_s]).toEqual(['ready', null])
  expect(it.tone.heard).not.toContain('zero')
  fly.press()
  expect(fly.phase).toBe('flying')
})

/** It was followed until 12 s, and then went as said. */
const wentAt12 = (how: 'landed' | 'behind'): void => {
  fly.press()
  wait(12)
  fly.lift()
  wait(1)
  fly.gone(how)
}
const sightings = (pieces: Evidence[]) => pieces.flatMap((piece) => (piece.kind === 'sighting' ? [piece] : []))

test('what_is_pointed_at_with_feet_still_is_of_the_moment_it_was_last_seen_and_stays_a_landing', async () => {
  wentAt12('landed')
  wait(20)
  expect(fly.feetStill).toBe(true)
  fly.takeLook({ pointed: { bearing_deg: 81, elevation_deg: 2 }, side: null, mark: null, beyond: null, fists: null })
  // Something on the skyline is one more direction of the same moment.
  fly.takeMark({ lat: 44.002, lon: -38 })
  fly.skyline = { ...fly.skyline, beyond: false }
  const pieces = sightings(await evidence())
  expect(pieces.map((piece) => [piece.moment, piece.t_s?.toFixed(1), piece.bearing_deg !== undefined, piece.beyond ?? null])).toEqual([
    ['landed', '12.0', true, null],
    ['landed', '12.0', true, null],
    ['landed', '12.0', false, false],
  ])
})

test('a_minute_after_it_was_last_seen_feet_may_move_and_a_program_that_was_killed_still_knows_when_that_was', async () => {
  wentAt12('behind')
  wait(FEET_S - 5)
  expect(fly.feetStill).toBe(true)
  wait(5)
  expect(fly.feetStill).toBe(false)
  end()
  fly = new Fly(backend, it, keep)
  end = fly.begin('rear camera')
  expect(fly.phase).toBe('pointing')
  fly.takeLook({ pointed: { bearing_deg: 81, elevation_deg: 12 }, side: null, mark: null, beyond: null, fists: null })
  expect(sightings(await evidence()).map((piece) => [piece.moment, piece.t_s?.toFixed(1)])).toEqual([['lost', '12.0'], ['lost', '12.0']])
})
