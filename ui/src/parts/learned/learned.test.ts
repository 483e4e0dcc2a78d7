import { expect, test, vi } from 'vitest'
import { fakeBackend } from '../../lib/backend/fake'
import { Learned } from './learned.svelte'

const NOTHING = { flights: 3, read: 0, sentences: ['Reed weighs more.'], said: [], unread: [] }

test('while_flights_are_read_it_is_said_how_far_and_nothing_waits', async () => {
  vi.useFakeTimers()
  const backend = fakeBackend()
  let done = 0
  let ends = (): void => undefined
  backend.beliefsProgress = () => Promise.resolve({ done, all: 5 })
  backend.beliefs = () =>
    new Promise((resolve) => {
      ends = () => {
        resolve(NOTHING)
      }
    })
  const learned = new Learned(backend)
  const learning = learned.learn(true)
  await vi.advanceTimersByTimeAsync(500)
  expect(learned.progress).toEqual({ done: 0, all: 5 })
  done = 3
  await vi.advanceTimersByTimeAsync(500)
  expect(learned.progress).toEqual({ done: 3, all: 5 })
  ends()
  await learning
  expect([learned.progress, learned.said]).toEqual([null, NOTHING])
  vi.useRealTimers()
})

test('a_reading_that_is_under_way_is_followed_to_its_end', async () => {
  vi.useFakeTimers()
  const backend = fakeBackend()
  let done = 1
  const asked = vi.fn(() => Promise.resolve(NOTHING))
  backend.beliefsProgress = () => Promise.resolve({ done, all: 5 })
  backend.beliefs = asked
  const learned = new Learned(backend)
  const leave = learned.open()
  await vi.advanceTimersByTimeAsync(900)
  expect(asked).not.toHaveBeenCalled()
  expect(learned.progress).toEqual({ done: 1, all: 5 })
  done = 5
  await vi.advanceTimersByTimeAsync(900)
  expect(asked).toHaveBeenCalledWith(false)
  expect(learned.said).toEqual(NOTHING)
  leave()
  vi.useRealTimers()
})
