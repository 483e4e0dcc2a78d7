import { expect, test } from 'vitest'
import { Refusal } from '../../lib/backend'
import { fakeBackend } from '../../lib/backend/fake'
import { isStale } from '../../parts/wind/stale'
import { fakeReceiver } from '../../lib/device/position'
import type { Device } from '../../lib/device'
import { geometryOf } from '../../lib/map/ground'
import { FleetHere, RocketDraft } from '../fleet/fleet.svelte'
import { Past } from '../past/past.svelte'
import { SitesHere } from '../fields/sites.svelte'
import type { ComesDown } from '../../lib/backend/calm'
import { towardOf } from '../../parts/wind/feel'
import { sceneOf, withinSaid } from '../today/down'
import { Today } from '../today/today.svelte'

const AT = { lat: 44, lon: -38, accuracy_m: 8, at_ms: 0 }

function standing() {
  const receiver = fakeReceiver(AT)
  return { receiver, device: { receiver } as unknown as Device }
}

test('a_rocket_told_anew_begins_with_what_was_told', async () => {
  const here = new FleetHere(fakeBackend())
  await here.open()
  // The first time there is nothing to choose from: one is told at once.
  expect(here.draft).not.toBeNull()
  const draft = here.draft ?? new RocketDraft()
  draft.name = ' Linnet '
  draft.motor = 'C6-5'
  draft.on = 'streamer'
  draft.device = { hands: 3 }
  draft.hole = 'coin'
  draft.booster = 'C6-0'
  await here.keep()
  const [kept] = here.fleet?.rockets ?? []
  expect(kept?.told).toMatchObject({ name: 'Linnet', stages: [{ motor: 'C6-0', comes_down_on: 'tumble' }, { motor: 'C6-5', comes_down_on: 'streamer', device: { hands: 3 }, hole: null }] })
  here.edit(kept ?? null)
  expect([here.draft?.name, here.draft?.booster, here.draft?.on]).toEqual(['Linnet', 'C6-0', 'streamer'])
  expect(here.draft?.told).toEqual(kept?.told)
})

test('a_booster_and_each_label_are_told_for_themselves_and_come_back', async () => {
  const here = new FleetHere(fakeBackend())
  await here.open()
  const draft = here.draft ?? new RocketDraft()
  draft.name = 'Heron'
  draft.booster = 'D12-0'
  draft.below.on = 'streamer'
  draft.below.weight = { grams: 45 }
  const parts = ['booster', 'sustainer']
  draft.label(parts, 'booster')
  expect([draft.labelled, draft.told.labels]).toEqual([false, ['booster']])
  draft.label(parts, 'sustainer')
  expect([draft.labelled, draft.told.labels]).toEqual([true, []])
  draft.label(parts, 'booster')
  await here.keep()
  const [kept] = here.fleet?.rockets ?? []
  expect(kept?.told?.stages[0]).toMatchObject({ motor: 'D12-0', comes_down_on: 'streamer', weight: { grams: 45 } })
  expect(kept?.told).toMatchObject({ labelled: false, labels: ['sustainer'] })
  here.edit(kept ?? null)
  expect(here.draft?.told).toEqual(kept?.told)
  // As an older logbook has it, every part is labelled.
  here.edit({ ...(kept ?? expect.fail('none kept')), told: { name: 'Heron', stages: [{ comes_down_on: 'tumble' }], labelled: true } })
  here.draft?.label(parts, 'booster')
  expect([here.draft?.labelled, here.draft?.labels]).toEqual([false, ['sustainer']])
})

test('the_pad_gets_better_while_one_stands_and_begins_anew_after_walking_on', async () => {
  const { receiver, device } = standing()
  const here = new SitesHere(fakeBackend(), device)
  const end = here.begin()
  const first_m = here.here?.accuracy_m ?? 0
  for (let s = 10; s <= 60; s += 10) receiver.move({ ...AT, at_ms: s * 1000 })
  const after_m = here.here?.accuracy_m ?? 0
  expect(after_m).toBeLessThan(first_m / 2)
  // 0.0005 degrees of latitude are 55 m.
  receiver.move({ ...AT, lat: 44.0005, at_ms: 90_000 })
  expect(here.here?.accuracy_m).toBe(8)
  end()
  here.name = 'Long Fallow'
  const id = await here.make()
  expect(here.site?.id).toBe(id)
  expect(here.site?.pads[0]).toMatchObject({ name: 'pad', lat: 44.0005, accuracy_m: 8 })
})

test('what_is_drawn_needs_enough_corners_and_an_area_is_closed', async () => {
  const here = new SitesHere(fakeBackend(), standing().device)
  here.begin()
  here.name = 'Long Fallow'
  await here.make()
  here.draw('trees')
  here.pick({ lat: 44, lon: -38 })
  here.pick({ lat: 44.001, lon: -38 })
  expect(here.drawnGeometry).toBeNull()
  here.pick({ lat: 44.001, lon: -38.001 })
  await here.finish('poplars')
  expect(here.site?.field.hazards).toEqual([
    { kind: 'trees', name: 'poplars', geometry: { type: 'Polygon', coordinates: [[[-38, 44], [-38, 44.001], [-38.001, 44.001], [-38, 44]]] } },
  ])
  expect(here.drawing).toBeNull()
  // Longitude first, and a course stays open.
  expect(geometryOf([{ lat: 1, lon: 2 }, { lat: 3, lon: 4 }], false)).toEqual({ type: 'LineString', coordinates: [[2, 1], [4, 3]] })
})

test('a_refusal_is_kept_to_be_said_and_goes_with_the_next_deed', async () => {
  const here = new SitesHere(fakeBackend(), standing().device)
  await here.take('{}')
  expect(String(here.trouble)).toContain('not invented')
  await here.open()
  expect(here.trouble).toBeNull()
})

test('a_rocket_goes_into_the_load_and_out_of_it', async () => {
  const backend = fakeBackend()
  const id = await backend.keepRocket(null, { name: 'Linnet', stages: [{ comes_down_on: 'tumble' }] })
  const today = new Today(backend)
  await today.open()
  await today.toggle(id)
  expect(today.day?.load.map((it) => it.rocket.id)).toEqual([id])
  await today.load(id, { motor: 'B6-4' })
  expect(today.day?.plan.load).toEqual([{ rocket: id, motor: 'B6-4' }])
  await today.toggle(id)
  expect(today.day?.load).toEqual([])
})

test('flights_of_one_day_stand_together_the_latest_day_first', async () => {
  const row = (name: string, launched_at: string | null) => ({
    name, launched_at, title: name, rocket: 'Linnet', field: null, found: [], searched: [], how: null, cause: null, set_aside: false,
  })
  const rows = [row('a', '2031-05-10T09:00:00Z'), row('b', '2031-05-11T09:00:00Z'), row('c', '2031-05-11T10:00:00Z'), row('d', null)]
  const past = new Past({ ...fakeBackend(), listLog: () => Promise.resolve(rows) })
  await past.open()
  expect(past.days.map((it) => [it.day, it.flights.map(({ name }) => name)])).toEqual([
    [null, ['d']], ['2031-05-11', ['c', 'b']], ['2031-05-10', ['a']],
  ])
  expect(past.rockets).toEqual(['Linnet'])
})

test('a_place_that_was_typed_and_is_none_keeps_no_field_somewhere_else', async () => {
  const { device } = standing()
  const backend = fakeBackend()
  const here = new SitesHere(backend, device)
  const end = here.begin()
  here.name = 'Long Fallow'
  here.type('44.001 the barn')
  expect([await here.make(), here.isNoPlace]).toEqual([null, true])
  expect(await backend.sites()).toEqual([])
  // Corrected, the complaint goes, and the place that was typed is the pad without being shown first.
  here.type('44.0010 -38.0020')
  expect(here.isNoPlace).toBe(false)
  await here.make()
  expect(here.site?.pads[0]).toMatchObject({ lat: 44.001, lon: -38.002 })
  // So with another pad; and a tap on the map takes the place of what was typed before it.
  here.type('nowhere')
  expect(await here.keepPad('south pad')).toBe(false)
  here.pick({ lat: 44.002, lon: -38 })
  expect(await here.keepPad('south pad')).toBe(true)
  expect(here.site?.pads[1]).toMatchObject({ name: 'south pad', lat: 44.002 })
  end()
})

test('what_was_removed_from_a_field_can_be_brought_back_where_it_was', async () => {
  const here = new SitesHere(fakeBackend(), standing().device)
  here.begin()
  here.name = 'Long Fallow'
  await here.make()
  for (const kind of ['road', 'power_line', 'fence'] as const) {
    here.draw(kind === 'fence' ? 'other' : kind)
    for (const lat of [44.001, 44.002, 44.003]) here.pick({ lat, lon: -38 - lat / 1e4 })
    await here.finish(kind)
  }
  const before = here.site?.field.hazards
  await here.drop(1)
  expect(here.site?.field.hazards.map((it) => it.kind)).toEqual(['road', 'other'])
  await here.bringBack()
  expect([here.site?.field.hazards, here.dropped]).toEqual([before, null])
})

test('a_draft_knows_whether_something_would_be_lost_and_which_motor_is_none', async () => {
  const backend = fakeBackend()
  backend.sketchRocket = () => Promise.reject(new Refusal('bad_request', 'Motor: no', 'stages[1].motor'))
  const here = new FleetHere(backend)
  await here.open()
  const draft = here.draft ?? new RocketDraft()
  expect(draft.isChanged).toBe(false)
  draft.booster = 'C6-0'
  draft.motor = 'Q9'
  expect(draft.isChanged).toBe(true)
  await here.sketch()
  expect([here.wrong, here.wrongMotor]).toEqual(['Motor: no', 1])
  draft.booster = null
  draft.motor = ''
  expect(draft.isChanged).toBe(false)
})

test('where_it_may_come_down_is_said_by_the_nearest_name_and_drawn_with_the_field', () => {
  expect([0, 22.4, 22.6, 180, 359, -45, 405].map(towardOf)).toEqual(['n', 'n', 'ne', 's', 'n', 'nw', 'ne'])
  const area = { type: 'MultiPolygon', coordinates: [] } as unknown as ComesDown['areas'][number]
  const one: ComesDown = { rocket: '1', name: 'Linnet', motor: 'C6-5', comes_down_on: 'parachute', within_m: 210, toward_deg: 92, areas: [area], in_field: 0.6, hazards: [], cautions: [] }
  expect(withinSaid(one, 'metric')).toBe('nine times in ten within 210\u00a0m of the pad, mostly to the east')
  const scene = sceneOf(AT, null, [one, one], [one])
  expect([scene.before.length, scene.after.length, scene.wholeField]).toEqual([1, 2, true])
})

test('a_motor_that_is_refused_leaves_the_load_as_it_was_and_says_why', async () => {
  const backend = fakeBackend()
  const id = await backend.keepRocket(null, { name: 'Linnet', stages: [{ motor: 'C6-5', comes_down_on: 'parachute' }] })
  const today = new Today(backend)
  await today.open()
  await today.toggle(id)
  backend.keepDay = () => Promise.reject(new Refusal('bad_request', 'no motor'))
  expect(await today.load(id, { motor: 'Q9' })).toBe('no motor')
  expect([today.day?.plan.load, today.trouble]).toEqual([[{ rocket: id }], null])
})

test('the_wind_is_asked_after_when_nobody_spoke_of_it_for_ten_minutes', async () => {
  const day = await fakeBackend().day()
  const told = (at: string) => ({ ...day, wind: [{ at, north: 'true' as const }] })
  const now = '2031-05-11T08:00:00Z'
  expect(isStale({ ...day, wind: [] }, now)).toBe(false)
  expect(isStale(told('2031-05-11T09:51:00+02:00'), now)).toBe(false)
  expect(isStale(told('2031-05-11T09:49:00+02:00'), now)).toBe(true)
})

test('one_looks_downwind_from_the_pad_that_is_chosen_or_nearest_and_along_the_wind_of_today', async () => {
  const { device } = standing()
  const backend = fakeBackend()
  const here = new SitesHere(backend, device)
  here.begin()
  here.name = 'Long Fallow'
  here.tapped = { lat: 44.005, lon: -38 }
  const id = await here.make()
  here.pick({ lat: 44.0001, lon: -38 })
  await here.keepPad('south pad')
  expect(here.site?.pads.map((it) => it.name)).toEqual(['pad', 'south pad'])
  expect(here.lookFrom?.name).toBe('south pad')
  here.lookPad = 'pad'
  expect(here.lookFrom?.name).toBe('pad')
  await here.look(90, 'road', 'football_pitch')
  expect(here.site?.looked.at(-1)?.from).toEqual({ lat: 44.005, lon: -38 })
  expect(here.downwind_deg).toBeNull()
  await backend.tellWind({ toward_deg: 90, force: 2 })
  await here.open(id)
  expect(here.downwind_deg === null ? null : towardOf(here.downwind_deg)).toBe('ne') // of the invented wind from 240 degrees
})

test('two_answers_about_a_field_given_before_the_first_is_kept_are_both_kept', async () => {
  const here = new SitesHere(fakeBackend(), standing().device)
  here.begin()
  here.name = 'Long Fallow'
  here.tapped = { lat: 44.005, lon: -38 }
  await here.make()
  await Promise.all([here.tellGround({ ground: 'short_grass' }), here.tellGround({ place: 'public_place' }), here.rename('Long Fallow, north')])
  expect(here.site?.field).toMatchObject({ ground: 'short_grass', place: 'public_place', name: 'Long Fallow, north' })
})
