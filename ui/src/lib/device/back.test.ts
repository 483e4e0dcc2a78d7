import { expect, test } from 'vitest'
import { onBack, type BackPage } from './back'

/** A page with one entry in its history, as a program has that was just started. */
function startedPage(): { page: BackPage; back: () => 'stayed' | 'left the program' } {
  const entries: unknown[] = [null]
  let hear: (() => void) | null = null
  const history = {
    get state(): unknown {
      return entries.at(-1)
    },
    pushState: (state: unknown) => entries.push(state),
  }
  const page = {
    history,
    addEventListener: (_: string, listener: () => void) => (hear = listener),
    removeEventListener: () => (hear = null),
  } as unknown as BackPage
  const back = () => {
    if (entries.length === 1) return 'left the program'
    entries.pop()
    hear?.()
    return 'stayed'
  }
  return { page, back }
}

test('back_leads_out_of_a_screen_and_then_out_of_the_program', () => {
  const { page, back } = startedPage()
  let inside = true
  const end = onBack(() => {
    inside = false
    return true
  }, page)
  expect(back()).toBe('stayed')
  expect(inside).toBe(false)
  end()
  expect(back()).toBe('left the program')
})

test('back_never_leads_out_of_a_flight_in_the_air', () => {
  const { page, back } = startedPage()
  let asked = 0
  onBack(() => {
    asked++
    return false
  }, page)
  for (let press = 1; press <= 3; press++) {
    expect(back()).toBe('stayed')
    expect(asked).toBe(press)
  }
})

test('a_screen_left_in_another_way_is_not_asked_and_leaves_one_press_without_effect', () => {
  const { page, back } = startedPage()
  const asked: string[] = []
  const screen = (name: string) =>
    onBack(() => {
      asked.push(name)
      return true
    }, page)
  screen('first')()
  screen('second')()
  expect(back()).toBe('stayed')
  expect(back()).toBe('left the program')
  expect(asked).toEqual([])
})
