/** Keeps the screen lit. */
export interface WakeLock {
  /** Asks again after the page was hidden, as long as it is held. */
  hold(): Promise<boolean>
  release(): void
}

/** What offers such a lock. */
export interface Lockable {
  request(type: 'screen'): Promise<{ release(): Promise<void> }>
}

/** The lock that the browser offers; `false` from `hold` where there is none. */
export function deviceWakeLock(
  lock: Lockable | undefined,
  page: Pick<Document, 'addEventListener' | 'visibilityState'> = document,
): WakeLock {
  let wanted = false
  let held: { release(): Promise<void> } | null = null
  const take = async (): Promise<boolean> => {
    if (!lock) return false
    try {
      held = await lock.request('screen')
      if (!wanted) letGo()
      return wanted
    } catch {
      return false // on low battery a browser may refuse: the flight goes on
    }
  }
  const letGo = () => {
    void held?.release().catch(() => undefined)
    held = null
  }
  // The browser drops the lock with the page out of sight.
  page.addEventListener('visibilitychange', () => {
    if (wanted && page.visibilityState === 'visible') void take()
  })
  return {
    hold: () => {
      wanted = true
      return take()
    },
    release: () => {
      wanted = false
      letGo()
    },
  }
}

/** What the activity on Android offers its pages (`MainActivity.kt`). */
export interface LitScreen {
  keepLit(lit: boolean): void
}

/** Android's own flag of the window as such a lock: it needs no permission, and every version of Android has it. */
export function windowFlag(screen: LitScreen | undefined): Lockable | undefined {
  return (
    screen && {
      request: () => {
        screen.keepLit(true)
        return Promise.resolve({
          release: () => {
            screen.keepLit(false)
            return Promise.resolve()
          },
        })
      },
    }
  )
}

/** A lock that only remembers. */
export function fakeWakeLock(): WakeLock & { held: boolean } {
  const it = {
    held: false,
    hold: () => {
      it.held = true
      return Promise.resolve(true)
    },
    release: () => {
      it.held = false
    },
  }
  return it
}
