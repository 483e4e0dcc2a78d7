/** How full the battery is, 0 to 1, and whether it is being charged. */
export interface Charge {
  share: number
  charging: boolean
}

/** The battery; silent where the web view does not tell. */
export interface Battery {
  watch(oncharge: (charge: Charge) => void): () => void
}

/** What browsers that tell it have: W3C, Battery Status API. */
interface Told extends EventTarget {
  level: number
  charging: boolean
}

const CHANGES = ['levelchange', 'chargingchange'] as const

/** The battery of the device. */
export function deviceBattery(device: { getBattery?: () => Promise<Told> } = navigator as object): Battery {
  return {
    watch: (oncharge) => {
      let end: (() => void) | null = null
      let ended = false
      void device
        .getBattery?.()
        .then((told) => {
          if (ended) return
          const tell = () => {
            oncharge({ share: told.level, charging: told.charging })
          }
          for (const change of CHANGES) told.addEventListener(change, tell)
          end = () => {
            for (const change of CHANGES) told.removeEventListener(change, tell)
          }
          tell()
        })
        .catch(() => undefined)
      return () => {
        ended = true
        end?.()
      }
    },
  }
}

/** A battery that is as full as it is told. */
export function fakeBattery(): Battery & { is(share: number, charging?: boolean): void } {
  let told: ((charge: Charge) => void) | null = null
  return {
    watch: (oncharge) => {
      told = oncharge
      return () => {
        told = null
      }
    },
    is: (share, charging = false) => told?.({ share, charging }),
  }
}
