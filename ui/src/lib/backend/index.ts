import type { Backend } from './client'
import { httpBackend, tokenOf } from './http'
import { windowBackend } from './window'

export type { Backend, Fall, FindNote, FlightSummary, HeightCheck, Led, Light, Opening, Piece, Refused, WalkStep } from './client'
export { Refusal } from './client'

/** The way to the core from where this page runs. */
export async function chooseBackend(): Promise<Backend> {
  // Invented answers exist only in a build made for looking at the screens (`npm run build:fake`).
  if (import.meta.env.MODE === 'fake') return (await import('./fake')).fakeBackend()
  if ('__TAURI_INTERNALS__' in window) return windowBackend()
  return httpBackend(tokenOf(location.hash), location.origin, (input, init) => fetch(input, init))
}
