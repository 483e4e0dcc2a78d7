import { createContext } from 'svelte'

/** Whether a wet hand or a pocket touches nothing of the screen; it holds whatever screen comes next. */
export class TouchGuard {
  on = $state(false)
}

/** The one guard of this page. Reading it outside the app throws. */
export const [guardHere, setGuardHere] = createContext<TouchGuard>()
