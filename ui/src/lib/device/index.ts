import { deviceBattery, type Battery } from './battery'
import { deviceCamera, type Camera } from './camera'
import { deviceClock, type Clock } from './clock'
import { deviceCompass, type Compass } from './compass'
import { deviceMicrophone, type Microphone } from './microphone'
import { deviceReceiver, type PositionReceiver } from './position'
import { deviceSharing, type Sharing } from './sharing'
import { deviceTone, type Tone } from './tone'
import { deviceVibration, type Vibration } from './vibration'
import { deviceWakeLock, windowFlag, type LitScreen, type WakeLock } from './wakelock'

/** Everything of the device that a screen may use. */
export interface Device {
  battery: Battery
  camera: Camera
  clock: Clock
  compass: Compass
  microphone: Microphone
  receiver: PositionReceiver
  sharing: Sharing
  tone: Tone
  vibration: Vibration
  wakeLock: WakeLock
}

/** This device. */
export function thisDevice(): Device {
  // Some web views leave these out although the types say that they are always there.
  const { geolocation, mediaDevices, wakeLock } = navigator as Partial<Navigator>
  const { windfallScreen } = window as { windfallScreen?: LitScreen }
  return {
    battery: deviceBattery(),
    camera: deviceCamera(mediaDevices),
    clock: deviceClock(),
    compass: deviceCompass(),
    microphone: deviceMicrophone(mediaDevices),
    receiver: deviceReceiver(geolocation),
    sharing: deviceSharing(),
    tone: deviceTone(),
    vibration: deviceVibration(),
    wakeLock: deviceWakeLock(windowFlag(windfallScreen) ?? wakeLock),
  }
}
