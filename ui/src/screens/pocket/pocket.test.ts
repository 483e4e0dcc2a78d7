import { beforeEach, expect, test } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import { fleetRocket, loadedOf } from '../../lib/backend/fakeCalm'
import type { Device } from '../../lib/device'
import { fakeClock } from '../../lib/device/clock'
import { fakeReceiver } from '../../lib/device/position'
import { Pocket } from './pocket.svelte'

const here = { lat: 44.001, lon: -38.001, accuracy_m: 5, at_ms: 0 }
const device = () => ({ clock: fakeClock(), receiver: fakeReceiver(here) }) as unknown as Device
const settled = () => new Promise((done) => setTimeout(done, 5))

let backend: ReturnType<typeof fakeBackend>
let pocket: Pocket

beforeEach(async () => {
  backend = fakeBackend()
  const flight = await backend.showFlight('drifted')
  const own = { ...flight, pad: { lat: 44.002, lon: -38.001, accuracy_m: 4 }, rocket: { id: 'r1', name: 'Linnet', stages: [{ motor: 'C6-5', splits_into: [] }] }, evidence: [] }
  backend.readyFlights = () => Promise.resolve([{ rocket: 'r1', name: 'Linnet', flight: own, has_pad: true, loaded: loadedOf(fleetRocket('r1', own.rocket)) }])
  pocket = new Pocket(backend, device())
  const end = pocket.begin()
  await settled()
  return end
})

test('a_flight_told_afterwards_says_when_what_and_where_it_lay_in_one_go', async () => {
  pocket.choose(pocket.rockets.find((it) => it.name === 'Linnet') ?? null)
  expect(pocket.open).toBe('ago')
  pocket.takeAgo('m30')
  pocket.takeDid('opened')
  expect(pocket.open).toBe('where')
  const id = await pocket.keep({ lat: 44.0031, lon: -38.0007 })
  const flight = await backend.showFlight(id ?? '')
  expect(flight).toMatchObject({ title: 'Linnet, flown at 07:30', pad: { lat: 44.002 }, launch: { at: '2031-05-11T07:30:00+00:00', timed_by: 'recalled' }, rocket: { name: 'Linnet' } })
  expect(flight.evidence).toMatchObject([
    { kind: 'saw', mode: 'opened', sure: 'think' },
    { kind: 'find', part: 'rocket', at: { lat: 44.0031 }, accuracy_m: 15 },
  ])
})

test('what_is_missing_is_no_find_and_another_rocket_flew_somewhere_near', async () => {
  pocket.choose(null)
  pocket.takeAgo('h1')
  pocket.takeDid('none_opened')
  const flight = await backend.showFlight((await pocket.keep('missing')) ?? '')
  expect(flight.evidence.map((it) => it.kind)).toEqual(['saw'])
  expect(flight.pad).toMatchObject({ lat: 44.001, accuracy_m: 100 })
  // Told once more, it is the same flight.
  pocket.takeDid('tangled')
  await pocket.keep('here')
  expect((await backend.showFlight(flight.id ?? '')).evidence.map((it) => it.kind)).toEqual(['saw', 'find'])
})
