// Development: linear light to code values, as darkroom/tone.py has it; constants come from there.

const LUMINANCE = common.luminance,
  TONE = common.tone;
const luminanceOf = (red, green, blue) => LUMINANCE[0] * red + LUMINANCE[1] * green + LUMINANCE[2] * blue;
const midGrey = (iso) => TONE.midGreyConstant / iso;
const clipOf = (iso) => TONE.clipConstant / iso;

function srgbEncode(linear) {
  const light = Math.min(Math.max(linear, 0), 1);
  return light <= 0.0031308 ? 12.92 * light : 1.055 * light ** (1 / 2.4) - 0.055;
}

function shoulder(light) {
  if (!(light > 0)) return 0;
  if (light <= TONE.shoulder) return light;
  return light >= TONE.clip
    ? 1
    : 1 - (1 - TONE.shoulder) * ((TONE.clip - light) / (TONE.clip - TONE.shoulder)) ** TONE.power;
}

// A table is quicker than a power for each band of each pixel; it is off by a fortieth of a code value at most.
const ENTRIES = 65536;
const ENCODED = Float32Array.from({ length: ENTRIES + 1 }, (_, at) => 255 * srgbEncode(at / ENTRIES));

// Lift, black point and saturation of [finish], in linear light: only what is developed is finished, never a reading.
function finished(light, look, iso) {
  if (look.exposure === 0 && look.blackPoint === null && look.saturation === 1) return light;
  const clip = clipOf(iso),
    black = look.blackPoint === null ? 0 : midGrey(iso) * 2 ** look.blackPoint;
  const lift = 2 ** look.exposure,
    stretch = clip / (clip - black),
    { saturation } = look;
  const done = new Float32Array(light.length);
  for (let at = 0; at < light.length; at += 3) {
    const red = Math.max(0, light[at] * lift - black) * stretch;
    const green = Math.max(0, light[at + 1] * lift - black) * stretch;
    const blue = Math.max(0, light[at + 2] * lift - black) * stretch;
    const middle = luminanceOf(red, green, blue);
    done[at] = Math.max(0, middle + saturation * (red - middle));
    done[at + 1] = Math.max(0, middle + saturation * (green - middle));
    done[at + 2] = Math.max(0, middle + saturation * (blue - middle));
  }
  return done;
}

// Code values 0..255, not yet whole, of light, three bands a pixel. Written out for speed: it runs for every pixel.
function signalOf(light, iso, look, signal = new Float32Array(light.length)) {
  const shown = finished(light, look, iso),
    scale = TONE.midGreyLinear / midGrey(iso),
    straight = TONE.shoulder;
  const encoded = (linear) => ENCODED[linear < 1 ? (ENTRIES * linear + 0.5) | 0 : ENTRIES];
  for (let at = 0; at < shown.length; at += 3) {
    let red = shown[at] * scale,
      green = shown[at + 1] * scale,
      blue = shown[at + 2] * scale;
    const high = red > green ? (red > blue ? red : blue) : green > blue ? green : blue;
    if (high > straight) {
      const low = red < green ? (red < blue ? red : blue) : green < blue ? green : blue;
      const white = shoulder(high),
        black = shoulder(low),
        share = high > low ? (white - black) / (high - low) : 0;
      red = black + share * (red - low);
      green = black + share * (green - low);
      blue = black + share * (blue - low);
    }
    signal[at] = encoded(red);
    signal[at + 1] = encoded(green);
    signal[at + 2] = encoded(blue);
  }
  return signal;
}

// The 8-bit picture: red, green, blue and full cover for each pixel. What is added before a code value is cut to a
// whole one keeps dark gradients from banding.
function developInto(pixels, light, width, iso, look) {
  const signal = signalOf(light, iso, look),
    height = light.length / 3 / width,
    levels = TONE.ditherLevels;
  const across = Float64Array.from({ length: width }, (_, column) => column / TONE.plastic ** 2);
  for (let row = 0, at = 0, to = 0; row < height; row += 1) {
    const down = row / TONE.plastic;
    for (let column = 0; column < width; column += 1, at += 3, to += 4) {
      const phase = down + across[column],
        lift = ((((phase - (phase | 0)) * levels) | 0) + 0.5) / levels;
      pixels[to] = (signal[at] + lift) | 0;
      pixels[to + 1] = (signal[at + 1] + lift) | 0;
      pixels[to + 2] = (signal[at + 2] + lift) | 0;
      pixels[to + 3] = 255;
    }
  }
}

// The 8-bit value of a reading: straight, without the shoulder, as photometry/exposure.py tells it.
const codeOfExposure = (exposure, iso) => Math.round(255 * srgbEncode((TONE.midGreyLinear * exposure) / midGrey(iso)));
