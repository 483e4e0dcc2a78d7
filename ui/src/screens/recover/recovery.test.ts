import { expect, test } from 'vitest'
import { Refusal, type Backend } from '../../lib/backend'
import { FAKE_FLIGHTS, fakeAnswer, fakeBackend } from '../../lib/backend/fake'
import type { Answer, Sentence } from '../../lib/backend/generated'
import { fakeReceiver, NoFix } from '../../lib/device/position'
import { inWords } from '../../lib/words/sentence'
import { Recovery } from './recovery.svelte'
import { goalOf } from './walk.svelte'

const here = { lat: 44.001, lon: -38.001, accuracy_m: 5 }
const settled = () => new Promise((done) => setTimeout(done, 0))
const broken: Partial<Backend> = {
  locateFlight: () => Promise.reject(new Refusal('bad_flight', 'stages: none given, one or two are allowed')),
}

test('choosing_a_flight_brings_flight_answer_and_shading', async () => {
  const recovery = new Recovery(fakeBackend(), fakeReceiver(here))
  await recovery.open()
  expect(recovery.flights).toEqual(FAKE_FLIGHTS)
  await recovery.choose('apart')
  await settled()
  expect(recovery.part?.part).toBe('upper')
  expect(recovery.density?.width).toBe(96)
})

test('a_part_that_was_found_is_not_what_is_looked_for', async () => {
  const backend: Backend = {
    ...fakeBackend(),
    showFlight: async (id) => ({
      ...(await fakeBackend().showFlight(id)),
      evidence: [{ kind: 'find', part: 'upper', at: here, set_aside: false }],
    }),
  }
  const recovery = new Recovery(backend, fakeReceiver(here))
  await recovery.choose('apart')
  expect(recovery.found).toEqual(['upper'])
  expect(recovery.part?.part).toBe('lower')
})

test('a_refusal_is_shown_and_trying_again_works', async () => {
  const backend = { ...fakeBackend(), ...broken }
  const recovery = new Recovery(backend, fakeReceiver(here))
  await recovery.choose('apart')
  expect(recovery.trouble).toMatchObject({ code: 'bad_flight', message: 'stages: none given, one or two are allowed' })
  expect(recovery.locating).toBe(false)
  backend.locateFlight = fakeBackend().locateFlight
  recovery.trouble?.again()
  await settled()
  expect(recovery.trouble).toBeNull()
  expect(recovery.answer?.flight).toBe('apart')
})

test('what_is_known_at_once_is_shown_without_shading_until_the_answer_takes_its_place', async () => {
  const asked: string[] = []
  const backend: Backend = { ...fakeBackend(), landingDensity: (id, part, mode) => { asked.push(part); return fakeBackend().landingDensity(id, part, mode) } }
  const recovery = new Recovery(backend, fakeReceiver(new NoFix('denied')))
  const [rough, final] = [fakeAnswer('drifted', null), { ...fakeAnswer('drifted', null), seed: 2 }]
  let done: (answer: Answer) => void = () => undefined
  const answer = () => new Promise<Answer>((finish) => { done = finish })
  const following = recovery.follow({ id: 'drifted', flight: await backend.showFlight('drifted'), rough, answer })
  recovery.chooseMode('opens_late')
  await settled()
  expect(recovery.isRough && recovery.locating).toBe(true)
  expect(recovery.answer).toEqual(rough)
  expect(recovery.stay?.say).toBe('not_settled')
  expect(asked).toEqual([])
  done(final)
  await following
  await settled()
  expect(recovery.isRough || recovery.locating).toBe(false)
  expect(recovery.stay).toBeNull()
  expect(recovery.answer?.seed).toBe(2)
  expect(recovery.mode).toBe('opens_late')
  expect(asked.length).toBeGreaterThan(0)
})

test('an_answer_that_comes_after_the_flyer_went_back_is_not_shown_and_one_that_breaks_can_be_asked_for_again', async () => {
  const recovery = new Recovery(fakeBackend(), fakeReceiver(here))
  const flight = await fakeBackend().showFlight('drifted')
  const gone = recovery.follow({ id: 'drifted', flight, rough: null, answer: () => Promise.resolve(fakeAnswer('drifted', null)) })
  expect(recovery.answer).toBeNull()
  recovery.leave()
  await gone
  expect(recovery.id).toBeNull()
  let broken = true
  const answer = () => (broken ? Promise.reject(new Refusal('panic', 'It broke.')) : Promise.resolve(fakeAnswer('drifted', null)))
  await recovery.follow({ id: 'drifted', flight, rough: null, answer })
  expect(recovery.trouble?.message).toBe('It broke.')
  broken = false
  recovery.trouble?.again()
  await settled()
  expect(recovery.answer?.flight).toBe('drifted')
})

test('an_answer_stands_without_its_shading', async () => {
  const refusing = { ...fakeBackend(), landingDensity: () => Promise.resolve(new ArrayBuffer(3)) }
  const recovery = new Recovery(refusing, fakeReceiver(here))
  await recovery.choose('drifted')
  await settled()
  expect(recovery.densityTrouble).toContain('3 bytes')
  expect(recovery.answer).not.toBeNull()
  expect(recovery.trouble).toBeNull()
})

test('an_answer_that_comes_late_does_not_replace_the_flight_chosen_since', async () => {
  let slow: (answer: Answer) => void = () => undefined
  const backend: Backend = {
    ...fakeBackend(),
    locateFlight: (id) =>
      id === 'drifted' ? new Promise((done) => (slow = done)) : Promise.resolve(fakeAnswer(id, null)),
  }
  const recovery = new Recovery(backend, fakeReceiver(here))
  const first = recovery.choose('drifted')
  await recovery.choose('bare')
  slow(fakeAnswer('drifted', null))
  await first
  expect(recovery.answer?.flight).toBe('bare')
})

test('standing_somewhere_else_asks_the_core_again_from_there', async () => {
  const recovery = new Recovery(fakeBackend(), fakeReceiver(here))
  await recovery.choose('drifted')
  await recovery.standHere()
  expect(recovery.from).toEqual({ lat: here.lat, lon: here.lon })
  expect(recovery.answer?.from).toEqual({ lat: here.lat, lon: here.lon })
  await recovery.standAtPad()
  expect(recovery.from).toBeNull()
})

test('a_device_that_will_not_tell_leaves_the_answer_as_it_was', async () => {
  const recovery = new Recovery(fakeBackend(), fakeReceiver(new NoFix('denied')))
  await recovery.choose('drifted')
  const before = recovery.answer
  await recovery.standHere()
  expect(recovery.positionTrouble).toContain('Allow it')
  expect(recovery.answer).toBe(before)
})

test('a_mode_that_the_next_part_does_not_know_is_let_go', async () => {
  const backend: Backend = {
    ...fakeBackend(),
    locateFlight: (id, from) => {
      const answer = fakeAnswer(id, from)
      answer.parts[1]?.modes.splice(1)
      return Promise.resolve(answer)
    },
  }
  const recovery = new Recovery(backend, fakeReceiver(here))
  await recovery.choose('apart')
  recovery.chooseMode('none_opened')
  expect(recovery.modeAnswer?.mode).toBe('none_opened')
  recovery.choosePart('lower')
  expect(recovery.mode).toBeNull()
})

test('what_is_about_the_way_is_about_the_way_that_is_chosen_or_the_one_the_walker_is_on', async () => {
  const it = fakeAnswer('drifted', null)
  const [part] = it.parts
  const [way] = part?.modes ?? []
  if (!part || !way) throw new Error('the invented answer has no way')
  const stopHere = (what: Sentence): Sentence => ({ say: 'stop_here', what, advice: { say: 'look_first' } })
  part.approach.said = stopHere({ say: 'the_road' })
  way.approach = { ...way.aim, caution: null, said: stopHere({ say: 'the_water' }) }
  it.said.cautions = [{ say: 'on_the_way_to', part: part.part, caution: part.approach.said }, { say: 'mind_the_ground' }]
  const recovery = new Recovery({ ...fakeBackend(), locateFlight: () => Promise.resolve(it) }, fakeReceiver(here))
  await recovery.choose('drifted')
  const usual = inWords({ say: 'mind_the_ground' })
  const onTheWay = (caution: Sentence) => inWords({ say: 'on_the_way_to', part: part.part, caution })
  expect(recovery.cautions).toEqual([onTheWay(part.approach.said), usual])
  recovery.chooseMode(way.mode)
  expect(recovery.cautions).toEqual([onTheWay(stopHere({ say: 'the_water' })), usual])
  expect(recovery.cautionsOn(null)).toEqual([usual])
  // The walk leads where it lies then.
  expect(goalOf(part, recovery.modeAnswer)).toMatchObject({ mode: way.mode, aim: way.aim, approach: way.approach })
  expect(goalOf(part, null)).toBe(part)
})

test('nobody_is_sent_where_the_core_says_to_stay', async () => {
  const it = fakeAnswer('drifted', null)
  const [part] = it.parts
  const [way] = part?.modes ?? []
  if (!part || !way) throw new Error('the invented answer has no way')
  way.stay = { say: 'too_far_to_be', distance_m: 9000, reach_m: 5000 }
  const recovery = new Recovery({ ...fakeBackend(), locateFlight: () => Promise.resolve(it) }, fakeReceiver(here))
  await recovery.choose('drifted')
  expect(recovery.stay).toBeNull()
  recovery.chooseMode(way.mode)
  expect(recovery.stay?.say).toBe('too_far_to_be')
  part.stay = { say: 'not_settled' }
  await recovery.choose('drifted')
  expect(recovery.stay?.say).toBe('not_settled')
})

test('whoever_stands_on_the_field_away_from_the_pad_goes_from_there_and_nobody_else_does', async () => {
  const pad = fakeAnswer('drifted', null).pad
  // A degree of a meridian is 111 km to half a per cent anywhere.
  const north = (metres: number, accuracy_m = 5) => ({ lat: pad.lat + metres / 111_000, lon: pad.lon, accuracy_m })
  const from = async (receiver: ReturnType<typeof fakeReceiver>, deed: (it: Recovery) => Promise<void> = () => Promise.resolve()) => {
    const recovery = new Recovery(fakeBackend(), receiver)
    await recovery.choose('drifted')
    await deed(recovery)
    await settled()
    return [recovery.from, recovery.answer?.from]
  }
  const stand = { lat: north(200).lat, lon: pad.lon }
  expect(await from(fakeReceiver(north(200)))).toEqual([stand, stand])
  const atPad = [null, pad]
  expect(await from(fakeReceiver(north(20)))).toEqual(atPad)
  expect(await from(fakeReceiver(north(200, 80)))).toEqual(atPad) // hardly known
  expect(await from(fakeReceiver(north(9000)))).toEqual(atPad) // at home
  expect(await from(fakeReceiver(new NoFix('denied')))).toEqual(atPad)
  // What the flyer said counts.
  expect(await from(fakeReceiver(north(200)), (it) => it.standAtPad())).toEqual(atPad)
})

test('where_a_part_was_found_is_told_from_the_pad', async () => {
  const backend: Backend = { ...fakeBackend(), showFlight: async (id) => ({ ...(await fakeBackend().showFlight(id)), evidence: ['upper', 'lower'].map((part) => ({ kind: 'find', part, at: here, set_aside: false })) }) }
  const recovery = new Recovery(backend, fakeReceiver(here))
  await recovery.choose('apart')
  await settled()
  expect(recovery.from).toBeNull()
})
