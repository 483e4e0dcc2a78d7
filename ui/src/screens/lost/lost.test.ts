import { beforeEach, expect, test } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import { SAID_BY_THE_CORE } from '../../lib/backend/generated/english'
import { fleetRocket, loadedOf } from '../../lib/backend/fakeCalm'
import type { Flight } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { fakeClock } from '../../lib/device/clock'
import { fakeReceiver } from '../../lib/device/position'
import { LETTERS } from '../../parts/rocket/letters'
import { isFromMemory, isPadVague, Lost } from './lost.svelte'

const here = { lat: 44.001, lon: -38.001, accuracy_m: 5, at_ms: 0 }
const device = (at = here) => ({ clock: fakeClock(), receiver: fakeReceiver(at) }) as unknown as Device
const settled = () => new Promise((done) => setTimeout(done, 0))

let backend: ReturnType<typeof fakeBackend>
let id: string

/** Told a minute after it was lost, with gaps; then the program was closed, and the flight opened again. */
const reopened = async (at = here): Promise<Lost> => {
  const lost = new Lost(backend, device(at), { ...(await backend.showFlight(id)), id })
  lost.begin()
  await settled()
  return lost
}

beforeEach(async () => {
  backend = fakeBackend()
  const lost = new Lost(backend, device())
  lost.begin()
  lost.takeLook({ pointed: { bearing_deg: 71, elevation_deg: 12 }, side: null, mark: null, beyond: null, fists: null })
  lost.takeAgo('m5')
  lost.takePad('later')
  lost.takeMotor('C')
  const got = await lost.answer()
  id = got?.flight.id ?? ''
})

test('a_flight_told_from_memory_is_open_to_every_correction_after_the_program_was_closed', async () => {
  const told = await backend.showFlight(id)
  expect([isFromMemory(told), isPadVague(told)]).toEqual([true, true])
  // Something that was told of it on another screen.
  await backend.tellFlight({ ...told, id, rocket: { stages: [{ ...told.rocket.stages[0], dry_mass_g: 61, splits_into: [] }] } })
  const lost = await reopened()
  expect(lost.look.pointed).toEqual({ bearing_deg: 71, elevation_deg: 12 })
  expect(lost.done).toEqual(['seen', 'ago', 'pad', 'motor'])
  // In any order, and only what is answered anew changes.
  lost.takeDevice('streamer')
  lost.takeAgo('m15')
  const { flight } = (await lost.answer()) ?? {}
  expect(flight?.launch.at).toBe('2031-05-11T07:45:00+00:00')
  expect(flight?.rocket.stages).toMatchObject([{ motor: 'C', dry_mass_g: 61, recovery: { kind: 'streamer' } }])
  expect(flight?.pad).toEqual(told.pad)
  expect(flight?.evidence).toEqual(told.evidence)
  lost.takeMotor('B')
  lost.takeLook({ pointed: null, side: null, mark: { lat: 44.01, lon: -38.001 }, beyond: true, fists: 2 })
  const again = (await lost.answer())?.flight
  expect(again?.rocket.stages).toMatchObject([{ motor: 'B', dry_mass_g: 61 }])
  expect(again?.evidence).toMatchObject([{ id: 'look', in_line_with: { lat: 44.01 }, beyond: true, elevation_deg: 20 }])
  const third = await reopened()
  expect([third.look.mark?.lat, third.look.beyond, third.look.fists, third.device]).toEqual([44.01, true, 2, 'streamer'])
})

test('a_pad_that_was_yet_to_be_walked_to_is_where_the_flyer_stands_when_it_is_said_and_stays_there', async () => {
  const lost = await reopened({ ...here, lat: 44.004, accuracy_m: 3 })
  expect(lost.padIsVague).toBe(true)
  lost.takePad('here')
  expect(lost.padIsVague).toBe(false)
  lost.here = { ...here, lat: 44.009 } // walked on before the answer was asked for
  const { flight } = (await lost.answer()) ?? {}
  expect(flight?.pad).toMatchObject({ lat: 44.004, accuracy_m: 3 })
  expect((await reopened()).padIsVague).toBe(false)
})

test('a_rocket_of_the_fleet_takes_the_place_of_what_was_guessed_and_nothing_is_told_twice', async () => {
  const linnet: Flight = { ...(await backend.showFlight(id)), rocket: { id: 'r1', name: 'Linnet', stages: [{ motor: 'C6-5', dry_mass_g: 48, recovery: { kind: 'parachute', shape: 'round', diameter_mm: 300 }, splits_into: [] }] } }
  backend.readyFlights = () => Promise.resolve([{ rocket: 'r1', name: 'Linnet', flight: linnet, has_pad: false, loaded: loadedOf(fleetRocket('r1', linnet.rocket)) }])
  const told = await backend.showFlight(id)
  const lost = await reopened()
  const [own] = lost.rockets
  if (!own) throw new Error('the fleet is empty')
  lost.takeRocket(own)
  lost.takeDevice('parachute')
  const { flight } = (await lost.answer()) ?? {}
  // The letter that was told is that of its motor, whose full name is known; so is the size of the chute.
  expect(flight?.rocket).toEqual(linnet.rocket)
  expect(flight?.title).toBe('Linnet, flown at 07:55')
  expect([flight?.pad, flight?.evidence, flight?.launch.at]).toEqual([told.pad, told.evidence, told.launch.at])
  // Another letter than the one it was loaded with is what flew.
  lost.takeMotor('B')
  expect((await lost.answer())?.flight.rocket.stages[0]?.motor).toBe('B')
})

test('every_letter_that_is_offered_is_a_class_the_core_reads', () => {
  const classes = SAID_BY_THE_CORE['core.class_comes_first'].match(/\b(?:1\/\d)?[A-G](?=[ ,])/g)
  expect(classes?.filter((it) => it !== '1/8A')).toEqual([...LETTERS])
})
