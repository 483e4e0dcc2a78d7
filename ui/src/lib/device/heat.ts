/** Whether the device itself has become too hot, by what its system says. */
export interface Heat {
  watch(onheat: (isHot: boolean) => void): () => void
}

/** What the activity on Android offers its pages (`MainActivity.kt`). No browser tells it. */
export interface Thermometer {
  isHot(): boolean
}

/** A phone warms in minutes: asked after so many seconds. */
const AGAIN_S = 15

/** The heat of the device; silent where nothing tells it. */
export function deviceHeat(thermometer: Partial<Thermometer> | undefined): Heat {
  return {
    watch: (onheat) => {
      if (!thermometer?.isHot) return () => undefined
      const ask = () => {
        onheat(thermometer.isHot?.() ?? false)
      }
      ask()
      const timer = setInterval(ask, AGAIN_S * 1000)
      return () => {
        clearInterval(timer)
      }
    },
  }
}

/** A device that is as hot as it is told. */
export function fakeHeat(): Heat & { is(isHot: boolean): void } {
  let told: ((isHot: boolean) => void) | null = null
  return {
    watch: (onheat) => {
      told = onheat
      return () => {
        told = null
      }
    },
    is: (isHot) => told?.(isHot),
  }
}
