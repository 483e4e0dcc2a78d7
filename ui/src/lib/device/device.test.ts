import { expect, test } from 'vitest'
import { fakeClock, rfc3339 } from './clock'
import { CompassCheck, fakeCompass, meanAim, turn_deg, type Aim } from './compass'
import { fakeMicrophone, heardAfter_s, Ignition, level_db } from './microphone'
import { apart_m, Averaged, Steady } from './place'
import { coreReceiver, deviceReceiver, fakeReceiver, NoFix, orElse, type Fix } from './position'
import { deviceTone, TONES } from './tone'
import { BUZZ, deviceVibration } from './vibration'
import { deviceWakeLock, windowFlag } from './wakelock'

const aim = (bearing_deg: number, elevation_deg: number, at_ms: number): Aim =>
  ({ bearing_deg, elevation_deg, at_ms, raw: { alpha: 0, beta: 0, gamma: 0 } }) as unknown as Aim
const PLACE: Fix = { lat: 44, lon: -38, accuracy_m: 4, at_ms: 0 }
/** North of {@link PLACE}: 111 195 m a degree on the sphere that `apart_m` measures on. */
const north = (metres: number, at_ms: number, accuracy_m = 4): Fix => ({ ...PLACE, lat: 44 + metres / 111_195, at_ms, accuracy_m })

test('a_moment_is_written_as_the_clock_on_the_field_shows_it', () => {
  // RFC 3339, section 5.8: 1996-12-19T16:39:57-08:00 and 1996-12-20T00:39:57Z are the same instant.
  expect(rfc3339(new Date('1996-12-20T00:39:57Z'), -480)).toBe('1996-12-19T16:39:57-08:00')
  expect(rfc3339(new Date('2026-05-16T09:02:00Z'), 330)).toBe('2026-05-16T14:32:00+05:30')
  const clock = fakeClock('2026-05-16T09:02:00Z')
  clock.push(30)
  expect(clock.wall(90)).toBe('2026-05-16T09:01:00+00:00')
})

test('directions_are_averaged_across_north', () => {
  const mean = meanAim([aim(350, 10, 0), aim(10, 20, 1)])
  expect(turn_deg(0, mean?.bearing_deg ?? NaN)).toBeCloseTo(0, 9)
  expect(mean?.elevation_deg).toBe(15)
  expect(mean?.spread_deg).toBeCloseTo(10, 9)
  expect(meanAim([])).toBeNull()
  expect(meanAim([aim(0, 0, 0), aim(180, 0, 1)])?.bearing_deg).toBeNull()
})

test('a_compass_that_jumps_is_told_from_one_that_is_turned_quickly', () => {
  const calm = new CompassCheck()
  for (let i = 0; i < 40; i++) calm.sees(aim((i * 8) % 360, 10, i * 50)) // 160 degrees a second
  expect(calm.state).toBe('good')
  const wild = new CompassCheck()
  for (let i = 0; i < 8; i++) wild.sees(aim(i % 2 === 0 ? 10 : 80, 10, i * 50))
  expect(wild.state).toBe('jumps')
  for (let i = 0; i < 3; i++) wild.sees(aim(10, 10, 20_000 + i * 50))
  expect(wild.state).toBe('good')
  const upward = new CompassCheck()
  for (let i = 0; i < 8; i++) upward.sees(aim(i % 2 === 0 ? 10 : 190, 85, i * 50))
  expect(upward.state).toBe('good')
})

test('a_compass_that_disagrees_with_the_way_walked_is_told', () => {
  const check = new CompassCheck()
  for (let i = 0; i < 4; i++) check.walks(90, 1.4, 140)
  expect(check.state).toBe('disagrees')
  check.walks(90, 1.4, 95)
  expect(check.state).toBe('good')
  // Steps that agree tell how far off it is, across north as well; those that stray, and how a hand holds it, tell nothing.
  const steady = new CompassCheck()
  for (const shown of [32, 36, 31, 35, 33]) steady.walks(355, 1.4, shown)
  expect([steady.state, steady.correction_deg]).toEqual(['disagrees', 0])
  steady.walks(355, 1.4, 31)
  expect(steady.state).toBe('corrected')
  expect(steady.correction_deg).toBeCloseTo(-38, 1)
  for (const shown of [[30, 100, 340, 60, 20, 90], [97, 94, 96, 98, 95, 97]]) {
    const other = new CompassCheck()
    for (const it of shown) other.walks(90, 1.4, it)
    expect(other.correction_deg).toBe(0)
  }
  const standing = new CompassCheck()
  for (let i = 0; i < 9; i++) standing.walks(90, 0.2, 270)
  expect(standing.state).toBe('good')
})

test('a_compass_is_heard_until_it_is_let_go', () => {
  const compass = fakeCompass()
  const seen: (number | null)[] = []
  const end = compass.watch('rear camera', (it) => seen.push(it.bearing_deg))
  compass.point(70, 10, 0)
  end()
  compass.point(80, 10, 1)
  expect(seen).toEqual([70])
})

test('a_jump_of_the_receiver_is_refused_until_it_insists', () => {
  const steady = new Steady()
  expect(steady.takes(north(0, 0))).not.toBeNull()
  expect(steady.takes(north(12, 1000))).not.toBeNull()
  for (let i = 0; i < 4; i++) expect(steady.takes(north(400, 2000 + i))).toBeNull()
  expect(steady.takes(north(400, 3000))).not.toBeNull()
  expect(steady.takes({ ...north(400, 4000), lat: NaN })).toBeNull()
})

test('fixes_on_one_spot_are_averaged_and_their_radius_shrinks_with_time', () => {
  const spot = new Averaged()
  expect(spot.fix).toBeNull()
  spot.add(north(-3, 0))
  expect(spot.fix?.accuracy_m).toBe(4)
  spot.add(north(3, 100))
  expect(spot.fix?.accuracy_m).toBeGreaterThan(3.9) // a tenth of a second later it is the same error
  for (let i = 1; i <= 30; i++) spot.add(north(i % 2 === 0 ? 3 : -3, i * 1000))
  expect(apart_m(PLACE, spot.fix ?? PLACE)).toBeLessThan(0.5)
  expect(spot.fix?.accuracy_m).toBeCloseTo(2, 1) // 30 s: as if four
  for (let i = 31; i <= 900; i++) spot.add(north(0, i * 1000))
  expect(spot.fix?.accuracy_m).toBeCloseTo(4 / 3, 6)
  const mixed = new Averaged()
  mixed.add(north(0, 0, 4))
  mixed.add(north(50, 1000, 40))
  expect(apart_m(PLACE, mixed.fix ?? PLACE)).toBeLessThan(1) // a hundredth of the weight
})

test('who_walks_on_leaves_earlier_fixes_behind_and_is_not_said_to_stand', () => {
  const spot = new Averaged()
  for (let i = 0; i <= 20; i++) spot.add(north(0, i * 1000, 5))
  for (let i = 1; i <= 10; i++) spot.add(north(7.5 * i, 20_000 + i * 3000, 5))
  const there = north(75, 0)
  // On the way it lags by a step and says so; twenty seconds of standing and it is there.
  expect(apart_m(there, spot.fix ?? PLACE)).toBeLessThan(8)
  expect(spot.fix?.accuracy_m).toBeGreaterThan(5)
  for (let i = 1; i <= 20; i++) spot.add(north(75, 50_000 + i * 1000, 5))
  expect(apart_m(there, spot.fix ?? PLACE)).toBeLessThan(3)
})

test('a_receiver_says_why_it_has_no_fix', async () => {
  await expect(deviceReceiver(undefined).fix()).rejects.toMatchObject({ why: 'unavailable' })
  const why: string[] = []
  deviceReceiver(undefined).watch(
    () => undefined,
    (it) => why.push(it.why),
  )
  expect(why).toEqual(['unavailable'])
  await expect(fakeReceiver(new NoFix('denied')).fix()).rejects.toMatchObject({ why: 'denied' })
})

test('a_fix_that_came_is_leave_whatever_the_web_view_says_of_it_and_a_no_is_none', async () => {
  const at = { latitude: 44, longitude: -38, accuracy: 3, heading: NaN, speed: null }
  let says: 'ok' | 1 | 3 = 'ok'
  let asked = 0
  const tell = (ok: PositionCallback, none?: PositionErrorCallback | null) => {
    asked++
    if (says === 'ok') ok({ coords: at, timestamp: 7 } as unknown as GeolocationPosition)
    else none?.({ code: says } as GeolocationPositionError)
    return 1
  }
  const geolocation = { getCurrentPosition: tell, watchPosition: tell, clearWatch: () => undefined } as unknown as Geolocation
  const prompting = { query: () => Promise.resolve({ state: 'prompt' }) } as unknown as Permissions
  const failing = { query: () => Promise.reject(new TypeError('geolocation is no name')) } as unknown as Permissions
  for (const permissions of [prompting, failing, undefined]) {
    says = 'ok'
    asked = 0
    const receiver = deviceReceiver(geolocation, permissions)
    expect(await receiver.known()).toBeNull()
    expect(asked).toBe(0) // nothing that might ask the flyer
    const seen: Fix[] = []
    receiver.watch((fix) => seen.push(fix))
    const fix = { lat: 44, lon: -38, accuracy_m: 3, course_deg: null, speed_mps: null, at_ms: 7 }
    expect(seen).toEqual([fix])
    expect(await receiver.known()).toEqual(fix)
    // No sky for a while takes nothing back; a no does.
    says = 3
    await expect(receiver.fix()).rejects.toMatchObject({ why: 'timeout' })
    says = 'ok'
    expect(await receiver.known()).toEqual(fix)
    says = 1
    const whys: string[] = []
    receiver.watch(() => undefined, ({ why }) => whys.push(why))
    expect(whys).toEqual(['denied'])
    asked = 0
    expect(await receiver.known()).toBeNull()
    expect(asked).toBe(0)
  }
})

test('the_ignition_is_a_sound_that_begins_suddenly_and_lasts', () => {
  const listened = (levels: number[]) => {
    const ignition = new Ignition()
    return levels.flatMap((it, at) => (ignition.hears(it) ? [at] : []))
  }
  const calm = Array.from({ length: 50 }, (_, i) => -55 + (i % 3))
  expect(listened([...calm, ...Array.from({ length: 40 }, () => -12)])).toEqual([55])
  expect(listened([...calm, -5, -5, ...calm])).toEqual([]) // a clap
  expect(listened(Array.from({ length: 200 }, (_, i) => -55 + i * 0.2))).toEqual([]) // wind that rises
  expect(listened([...calm, ...Array.from({ length: 40 }, () => -34)])).toEqual([]) // far away
  expect(heardAfter_s(0.02)).toBeCloseTo(0.1, 9)
})

test('a_full_sine_is_three_decibels_below_full_scale', () => {
  // Its mean square is one half, and 10 log10(1/2) = -3.01.
  const sine = Float32Array.from({ length: 1000 }, (_, i) => Math.sin((2 * Math.PI * i * 10) / 1000))
  expect(level_db(sine)).toBeCloseTo(-3.0103, 3)
  expect(level_db(new Float32Array(10))).toBe(-120)
})

test('a_microphone_is_deaf_once_it_is_let_go', async () => {
  const microphone = fakeMicrophone()
  const heard: number[] = []
  const end = await microphone.listen((level) => heard.push(level))
  microphone.level(-20)
  end()
  microphone.level(-10)
  expect(heard).toEqual([-20])
})

test('a_device_without_motor_or_loudspeaker_stays_silent', () => {
  expect(() => {
    deviceVibration({}).buzz('still')
    deviceTone(() => null).sound('heads_up')
  }).not.toThrow()
  const felt: number[][] = []
  deviceVibration({ vibrate: (pattern) => felt.push(pattern) > 0 }).buzz('still')
  expect(felt).toEqual([[...BUZZ.still]])
  const rhythms = Object.values(TONES).map((notes) => notes.map((it) => `${String(it.hertz)}/${String(it.sounds_s)}`).join())
  expect(new Set(rhythms).size).toBe(rhythms.length)
  // By hand alone, too: no two messages feel alike.
  const felts = Object.values(BUZZ).map((pattern) => pattern.join())
  expect(new Set(felts).size).toBe(felts.length)
})

test('a_computer_that_cannot_tell_where_it_is_asks_its_gpsd', async () => {
  const at = { lat: 44, lon: -38, accuracy_m: 3 }
  let says: Fix | null = at
  const gpsd = coreReceiver(() => Promise.resolve(says), () => 7)
  const none = deviceReceiver(undefined)
  expect(await orElse(none, gpsd).fix()).toEqual({ ...at, at_ms: 7 })
  const [refused, first] = [fakeReceiver(new NoFix('denied')), fakeReceiver({ ...at, lat: 45 })]
  expect((await orElse(refused, gpsd).fix()).lat).toBe(44) // a web view that refuses unasked
  expect((await orElse(first, gpsd).fix()).lat).toBe(45)
  const seen: Fix[] = []
  const end = orElse(none, gpsd).watch((fix) => seen.push(fix))
  await new Promise((done) => setTimeout(done, 300))
  end()
  const count = seen.length
  expect(count).toBeGreaterThan(1)
  await new Promise((done) => setTimeout(done, 300))
  expect(seen).toHaveLength(count)
  says = null
  await expect(orElse(none, gpsd).fix()).rejects.toMatchObject({ why: 'timeout' })
  const absent = coreReceiver(() => Promise.reject(new Error('no gpsd')))
  const whys: string[] = []
  orElse(none, absent).watch(() => undefined, ({ why }) => whys.push(why))()
  await expect(orElse(none, absent).fix()).rejects.toMatchObject({ why: 'no_gpsd' })
  expect(whys).toEqual([]) // ended before it could say so
})

test('the_screen_stays_lit_again_after_the_page_was_hidden', async () => {
  let shown: (() => void) | undefined
  let asked = 0
  const lock = { request: () => Promise.resolve({ release: () => Promise.resolve() }).finally(() => asked++) }
  const page = { visibilityState: 'visible', addEventListener: (_: string, then: () => void) => (shown = then) }
  const wake = deviceWakeLock(lock, page as unknown as Document)
  expect(await wake.hold()).toBe(true)
  shown?.()
  await Promise.resolve()
  wake.release()
  shown?.()
  await Promise.resolve()
  expect(asked).toBe(2)
  expect(await deviceWakeLock(undefined, page as unknown as Document).hold()).toBe(false)
})

test('on_android_the_screen_is_kept_lit_by_the_flag_of_the_window', async () => {
  const flags: boolean[] = []
  const page = { visibilityState: 'visible', addEventListener: () => undefined }
  const wake = deviceWakeLock(windowFlag({ keepLit: (lit) => flags.push(lit) }), page as unknown as Document)
  expect(await wake.hold()).toBe(true)
  wake.release()
  expect(flags).toEqual([true, false])
  expect(windowFlag(undefined)).toBeUndefined()
})
