import { expect, test, vi } from 'vitest'
import { Refusal } from './client'
import { httpBackend, tokenOf } from './http'

const refused = (promise: Promise<unknown>): Promise<Refusal> =>
  promise.then(
    () => {
      throw new Error('was not refused')
    },
    (thrown: unknown) => {
      if (!(thrown instanceof Refusal)) throw new Error('threw something else than a refusal')
      return thrown
    },
  )

const json = (body: unknown, status = 200) => new Response(JSON.stringify(body), { status })

test('the_token_is_read_behind_the_address', () => {
  expect(tokenOf('#token=abc123')).toBe('abc123')
  expect(tokenOf('')).toBe('')
})

test('a_call_goes_to_its_own_address_with_the_token_and_without_what_is_not_given', async () => {
  const fetch = vi.fn<typeof globalThis.fetch>().mockImplementation(() => Promise.resolve(json({})))
  const backend = httpBackend('t0', 'http://here', fetch)
  await backend.locateFlight('a', null)
  await backend.locateFlight('a', { lat: 1, lon: 2 })
  await backend.landingDensity('a', 'rocket', 'opens')
  expect(fetch.mock.calls.map(([address, init]) => [address, init?.body])).toEqual([
    ['http://here/api/locate_flight', '{"id":"a"}'],
    ['http://here/api/locate_flight', '{"id":"a","from":{"lat":1,"lon":2}}'],
    ['http://here/api/landing_density', '{"id":"a","part":"rocket","mode":"opens"}'],
  ])
  expect(fetch.mock.calls[0]?.[1]).toMatchObject({ method: 'POST', headers: { Authorization: 'Bearer t0' } })
})

test('the_core_refuses_in_its_own_words', async () => {
  const backend = httpBackend('', '', () => Promise.resolve(json({ code: 'unknown_flight', message: 'There is none.' }, 404)))
  expect(await refused(backend.showFlight('x'))).toMatchObject({ code: 'unknown_flight', message: 'There is none.' })
})

test('a_refusal_without_words_says_its_status', async () => {
  const backend = httpBackend('', '', () => Promise.resolve(new Response('<html>', { status: 502 })))
  expect(await refused(backend.listFlights())).toMatchObject({ code: 'http_502' })
  const odd = httpBackend('', '', () => Promise.resolve(json(['?'], 500)))
  expect((await refused(odd.listFlights())).message).toContain('500')
})

test('silence_and_garbage_are_refusals_too', async () => {
  const dead = httpBackend('', '', () => Promise.reject(new TypeError('fetch failed')))
  expect(await refused(dead.listFlights())).toMatchObject({ code: 'unreachable' })
  const garbled = httpBackend('', '', () => Promise.resolve(new Response('not json')))
  expect(await refused(garbled.listFlights())).toMatchObject({ code: 'garbled' })
})

test('whatever_the_window_throws_becomes_a_refusal', () => {
  expect(Refusal.from({ code: 'panic', message: 'it broke' })).toMatchObject({ code: 'panic', message: 'it broke' })
  expect(Refusal.from('bare words')).toMatchObject({ code: 'unexpected', message: 'bare words' })
  expect(Refusal.from(new Error('e'))).toMatchObject({ message: 'e' })
})
