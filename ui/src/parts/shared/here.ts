import { onDestroy } from 'svelte'

/** Whether the screen that asks is still the one that is shown: an answer that comes later calls nobody back to it. */
export function stillHere(): () => boolean {
  let here = true
  onDestroy(() => {
    here = false
  })
  return () => here
}
