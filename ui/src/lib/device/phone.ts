import { say } from '../words'

const KEY = 'windfall.phone'
/** What is kept nowhere is the same at least until the program ends. */
let here: string | null = null

/**
 * What this phone is called in the logbook: whatever is pointed with its compass names it, so that its error can be learned.
 * Made up once, for logbooks of two phones that come together.
 */
export function thisPhone(): string {
  if (here) return here
  try {
    here = localStorage.getItem(KEY)
    if (here) return here
  } catch {
    // A device that keeps nothing.
  }
  const mark = [...crypto.getRandomValues(new Uint8Array(2))].map((it) => it.toString(16).padStart(2, '0')).join('')
  here = say('phone.called', { mark: mark.toUpperCase() })
  try {
    localStorage.setItem(KEY, here)
  } catch {
    // Then it has this name until the program ends.
  }
  return here
}
