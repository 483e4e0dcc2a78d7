import { expect, test, vi } from 'vitest'
import type { CameIn } from '../../lib/backend/calm'
import { Refusal } from '../../lib/backend/client'
import { fakeBackend } from '../../lib/backend/fake'
import { fakeSharing } from '../../lib/device/sharing'
import { dayAndHour } from '../../lib/words'
import { language } from '../../lib/words/language.svelte'
import { Safe } from './safe.svelte'

function opened(change: Partial<ReturnType<typeof fakeBackend>> = {}) {
  const sharing = fakeSharing()
  const clock = { now_ms: () => 0, wall: () => '2031-05-11T10:12:30+02:00' }
  const backend = { ...fakeBackend(), bringFile: (_: string, at: number) => Promise.resolve(at + 9), ...change }
  return { sharing, safe: new Safe(backend, { clock, sharing }) }
}
const file = (name: string) => new File(['123456789'], name)

test('everything_leaves_as_one_file_named_after_the_day', async () => {
  const { safe, sharing } = opened()
  await safe.open()
  expect(safe.standing?.flights).toBe(41)
  await safe.takeOut('archive')
  await safe.takeOut('csv')
  expect(sharing.handed.map((it) => [it.name, it.content.type])).toEqual([
    ['windfall-2031-05-11.jsonl', 'application/jsonl'],
    ['windfall-2031-05-11.csv', 'text/csv'],
  ])
  expect(await sharing.handed[0]?.content.text()).toBe('archive')
  expect(safe.left).toEqual({ name: 'windfall-2031-05-11.csv', how: 'saved' })
})

test('places_wait_for_their_flight_and_come_again_with_it', async () => {
  const asked: (string | null)[] = []
  const row = { name: 'a', title: 'Heron', rocket: null, field: null, launched_at: null, found: [], searched: [], how: null, cause: null, set_aside: false }
  const { safe } = opened({
    putIn: (_file, _name, into) => {
      asked.push(into)
      const came: CameIn = into ? { kind: 'flight', flight: into, title: 'Heron', is_new: false, notes: 1, not_taken: [] } : { kind: 'places', count: 2 }
      return Promise.resolve(came)
    },
    listLog: () => Promise.resolve(Array.from({ length: 14 }, (_, at) => ({ ...row, name: String(at) }))),
  })
  await safe.putIn(file('walk.gpx'))
  expect(safe.choices.map((it) => it.name).slice(0, 2)).toEqual(['13', '12'])
  expect([safe.choices.length, safe.hasEarlier]).toEqual([12, true])
  safe.showEarlier()
  expect([safe.choices.length, safe.hasEarlier]).toEqual([14, false])
  await safe.into('3')
  expect(asked).toEqual([null, '3'])
  expect(safe.came).toMatchObject({ kind: 'flight', notes: 1 })
  expect(safe.choices).toEqual([])
})

test('a_refusal_stays_to_be_read_while_how_it_stands_is_asked_anew', async () => {
  const standing = vi.fn(fakeBackend().logbookStanding)
  const { safe } = opened({ logbookStanding: standing, checkLogbook: () => Promise.reject(new Refusal('storage', 'damaged')) })
  await safe.check()
  expect(String(safe.trouble)).toContain('damaged')
  expect(standing).toHaveBeenCalled()
  expect(safe.busy).toBeNull()
  // The next deed begins afresh.
  await safe.backUp()
  expect([safe.trouble, safe.isBackedUp]).toEqual([null, true])
})

test('two_touches_do_one_thing', async () => {
  const backUp = vi.fn(() => Promise.resolve())
  const { safe } = opened({ backUp })
  await Promise.all([safe.backUp(), safe.backUp()])
  expect(backUp).toHaveBeenCalledTimes(1)
})

test('a_moment_is_said_as_the_clock_showed_it', () => {
  expect(dayAndHour('2031-11-24T18:12:09+01:00')).toBe('24 November 2031 at 18:12')
  language.now = 'es'
  expect(dayAndHour('2031-11-24T18:12:09+01:00')).toMatch(/^24 de noviembre de 2031.* 18:12$/)
  language.now = 'en'
})
