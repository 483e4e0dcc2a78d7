import { expect, test } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import type { Evidence, Flight } from '../../lib/backend/generated'
import type { Device } from '../../lib/device'
import { fakeReceiver } from '../../lib/device/position'
import { Witness } from './witness.svelte'

const here = { lat: 44.001, lon: -38.001, accuracy_m: 5, at_ms: 0 }
const device = { receiver: fakeReceiver(here) } as unknown as Device

/** Of a flight that its flyer saw last at 31 s, from somewhere else. */
async function open(): Promise<{ witness: Witness; told: () => Promise<Evidence | undefined> }> {
  const backend = fakeBackend()
  const seen: Evidence = { kind: 'sighting', moment: 'lost', t_s: 31, bearing_deg: 70, north: 'magnetic', method: 'phone', from: { lat: 44.003, lon: -38.003 }, set_aside: false }
  const flight: Flight = { ...(await backend.showFlight('drifted')), evidence: [seen] }
  await backend.tellFlight({ ...flight, id: 'drifted' })
  const witness = new Witness(backend, device, 'drifted', flight)
  witness.begin()
  return { witness, told: async () => (await backend.showFlight('drifted')).evidence.at(-1) }
}

test('a_mark_on_the_skyline_is_of_the_moment_and_the_place_from_which_the_flyer_saw_it_last', async () => {
  const { witness, told } = await open()
  witness.standAt('then')
  witness.picking = 'mark'
  witness.pick({ lat: 44.01, lon: -38.003 })
  witness.look = { ...witness.look, beyond: true }
  expect(await witness.note()).not.toBeNull()
  expect(await told()).toMatchObject({ moment: 'lost', t_s: 31, in_line_with: { lat: 44.01 }, beyond: true, from: { lat: 44.003 }, method: 'line' })
  expect(await told()).not.toHaveProperty('observer')
})

test('seconds_that_somebody_counted_or_filmed_are_evidence_without_a_direction_and_say_what_they_are', async () => {
  const { witness, told } = await open()
  expect(await witness.note()).toBeNull()
  witness.seconds = 'about 40'
  expect(await witness.note()).toBeNull()
  expect(witness.trouble).toContain('42')
  witness.seconds = '41,5'
  witness.secondsBy = 'video'
  witness.moment = 'landed'
  expect(await witness.note()).not.toBeNull()
  expect(await told()).toMatchObject({ moment: 'landed', t_s: 41.5, timed_by: 'video', observer: 'somebody else' })
})
