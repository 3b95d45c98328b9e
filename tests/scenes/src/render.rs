//! From a scene to pixels: one sample a pixel where the plane is smooth, nine where something
//! changes within a pixel; then lens blur, exposure, noise and the sRGB curve.

use crate::camera::{Camera, Sensor};
use crate::geometry::{Bounds, Point, apart, between};
use crate::light::Ready;
use crate::random::Random;
use crate::scene::Scene;
use crate::surface::{Look, Mark, Reach, Surface};

const TILE: u32 = 16;
const FINE: u32 = 3;

/// A mark near a tile, and whether it hides all of what is below it there.
type Near<'a> = (&'a dyn Mark, bool);

/// Light before the sensor, three values a pixel, row after row.
pub(crate) struct Film {
    pub width: usize,
    pub height: usize,
    pub light: Vec<[f32; 3]>,
}

/// The picture of a scene.
pub(crate) fn picture(scene: &Scene, camera: &Camera, seed: u64) -> image::RgbImage {
    develop(expose(scene, camera), &camera.sensor, seed)
}

fn expose(scene: &Scene, camera: &Camera) -> Film {
    let (width, height) = (camera.width, camera.height);
    let mut film = Film {
        width: width as usize,
        height: height as usize,
        light: vec![[0.0; 3]; width as usize * height as usize],
    };
    let all: Vec<(Bounds, &dyn Mark)> = scene
        .layers
        .iter()
        .map(|mark| (mark.bounds(), mark.as_ref()))
        .collect();
    let light = scene.light.seen_from(camera.eye);
    let mut here: Vec<Near> = Vec::with_capacity(all.len());
    let mut grid = Vec::new();
    for top in (0..height).step_by(TILE as usize) {
        for left in (0..width).step_by(TILE as usize) {
            let right = (left + TILE).min(width);
            let low = (top + TILE).min(height);
            // What of the scene touches this tile; a tile on the horizon takes everything.
            let mut seen = Vec::with_capacity(9);
            for j in 0..3 {
                for i in 0..3 {
                    let x = f64::from(left) + f64::from(right - left) * f64::from(i) / 2.0;
                    let y = f64::from(top) + f64::from(low - top) * f64::from(j) / 2.0;
                    seen.extend(camera.to_plane([x, y]));
                }
            }
            here.clear();
            let tile = Bounds::around(&seen);
            let across = apart(tile.low, tile.high);
            let centre = between(tile.low, tile.high, 0.5);
            for (bounds, mark) in &all {
                if seen.len() < 9 {
                    here.push((*mark, false));
                } else if bounds.touches(&tile.grown(0.25 * across)) {
                    match mark.reach(centre, 0.62 * across) {
                        Reach::Misses => {}
                        Reach::Touches => here.push((*mark, false)),
                        Reach::Hides => {
                            here.clear();
                            here.push((*mark, true));
                        }
                    }
                }
            }
            let wide = (right - left + 1) as usize;
            under_tile(
                camera,
                [left, top],
                [wide, (low - top + 1) as usize],
                &mut grid,
            );
            for y in top..low {
                for x in left..right {
                    let i = (y - top) as usize * wide + (x - left) as usize;
                    let light = pixel(
                        scene,
                        camera,
                        &light,
                        &here,
                        [grid[i], grid[i + 1], grid[i + wide]],
                    );
                    film.light[y as usize * width as usize + x as usize] = light;
                }
            }
        }
    }
    film
}

/// The plane under every pixel centre of a tile and one further: looked up at every second one,
/// the mean of its neighbours between (off by less than a thousandth of a pixel, since plane and
/// lens bend little within two pixels).
fn under_tile(camera: &Camera, corner: [u32; 2], count: [usize; 2], grid: &mut Vec<Option<Point>>) {
    let [wide, high] = count;
    let exact = |x: usize, y: usize| {
        camera.to_plane([
            f64::from(corner[0]) + x as f64 + 0.5,
            f64::from(corner[1]) + y as f64 + 0.5,
        ])
    };
    let mean = |a: Option<Point>, b: Option<Point>| Some(between(a?, b?, 0.5));
    grid.clear();
    grid.resize(wide * high, None);
    for y in (0..high).step_by(2) {
        for x in (0..wide).step_by(2) {
            grid[y * wide + x] = exact(x, y);
        }
        for x in (1..wide).step_by(2) {
            let i = y * wide + x;
            grid[i] = if x + 1 < wide {
                mean(grid[i - 1], grid[i + 1])
            } else {
                exact(x, y)
            };
        }
    }
    for y in (1..high).step_by(2) {
        for x in 0..wide {
            let i = y * wide + x;
            grid[i] = if y + 1 < high {
                mean(grid[i - wide], grid[i + wide])
            } else {
                exact(x, y)
            };
        }
    }
}

/// Light of one pixel, given the plane under its centre, under the next one and the one below.
fn pixel(
    scene: &Scene,
    camera: &Camera,
    light: &Ready,
    marks: &[Near],
    under: [Option<Point>; 3],
) -> [f32; 3] {
    let sky = scene.light.sky_colour;
    let [middle, beside, below] = under;
    let (Some(at), Some(beside), Some(below)) = (middle, beside, below) else {
        return sky;
    };
    let footprint = (apart(at, beside) * apart(at, below)).sqrt().max(1e-6);
    let mut look = Look {
        footprint,
        grain: footprint,
        eye: camera.eye,
        sun: scene.light.lean(),
    };
    let surface = spot(marks, at, &look);
    if !surface.edge {
        return light.shine(at, &surface);
    }
    look.footprint = footprint / f64::from(FINE);
    let mut sum = [0.0f32; 3];
    for j in 0..FINE {
        for i in 0..FINE {
            // Within one pixel the lens is straight enough to step along the plane.
            let u = (f64::from(i) + 0.5) / f64::from(FINE) - 0.5;
            let v = (f64::from(j) + 0.5) / f64::from(FINE) - 0.5;
            let p: Point = [0, 1].map(|k| at[k] + u * (beside[k] - at[k]) + v * (below[k] - at[k]));
            let seen = light.shine(p, &spot(marks, p, &look));
            for (s, l) in sum.iter_mut().zip(seen) {
                *s += l;
            }
        }
    }
    sum.map(|s| s / (FINE * FINE) as f32)
}

fn spot(marks: &[Near], at: Point, look: &Look) -> Surface {
    let mut surface = Surface::PLAIN;
    for (mark, inside) in marks {
        if *inside {
            mark.apply_inside(at, look, &mut surface);
        } else {
            mark.apply(at, look, &mut surface);
        }
    }
    surface
}

/// Lens blur, exposure, corners, noise and the sRGB curve.
pub(crate) fn develop(mut film: Film, sensor: &Sensor, seed: u64) -> image::RgbImage {
    shake(&mut film, sensor.shake);
    blur(&mut film, sensor.blur);
    let (w, h) = (film.width, film.height);
    let mean = film
        .light
        .iter()
        .step_by(7)
        .map(|l| f64::from(0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]).min(1.5))
        .sum::<f64>()
        / (film.light.len().div_ceil(7)).max(1) as f64;
    let gain = (sensor.exposure / mean.max(1e-6)) as f32;
    let mut random = Random::new(seed ^ 0x5e_50_12);
    let curve = srgb_table();
    let mut out = image::RgbImage::new(w as u32, h as u32);
    let half = [w as f64 / 2.0, h as f64 / 2.0];
    let corner = half[0].hypot(half[1]);
    for (x, y, pixel) in out.enumerate_pixels_mut() {
        let light = film.light[y as usize * w + x as usize];
        let r = apart([f64::from(x), f64::from(y)], half) / corner;
        let fall = gain * (1.0 - sensor.vignette * r * r) as f32;
        let shared = random.grain();
        for (slot, (seen, gain)) in pixel.0.iter_mut().zip(light.iter().zip(sensor.balance)) {
            let v = seen * fall * gain;
            // Highlights bend over instead of clipping hard.
            let v = if v < 0.7 {
                v
            } else {
                0.7 + 0.3 * (1.0 - (-(v - 0.7) / 0.3).exp())
            };
            let place = v.clamp(0.0, 1.0) * 4095.0;
            let i = (place as usize).min(4094);
            let coded = curve[i] + (curve[i + 1] - curve[i]) * (place - i as f32);
            // Dark parts are a little noisier once the curve has stretched them.
            let strong = sensor.noise as f32 * (1.25 - 0.5 * coded / 255.0);
            let grain = 0.8 * shared + 0.6 * random.grain();
            *slot = (coded + strong * grain + 0.5).clamp(0.0, 255.0) as u8;
        }
    }
    out
}

/// The sRGB curve (IEC 61966-2-1) in 4096 steps, 0 to 255.
fn srgb_table() -> Vec<f32> {
    (0..4096)
        .map(|i| {
            let v = i as f32 / 4095.0;
            255.0
                * if v <= 0.003_130_8 {
                    12.92 * v
                } else {
                    1.055 * v.powf(1.0 / 2.4) - 0.055
                }
        })
        .collect()
}

fn shake(film: &mut Film, by: Point) {
    let steps = by[0].hypot(by[1]).ceil() as i32;
    if steps < 1 {
        return;
    }
    let (w, h) = (film.width as i32, film.height as i32);
    let from = film.light.clone();
    for y in 0..h {
        for x in 0..w {
            let mut sum = [0.0f32; 3];
            for k in 0..=steps {
                let t = f64::from(k) / f64::from(steps) - 0.5;
                let sx = (x + (t * by[0]).round() as i32).clamp(0, w - 1);
                let sy = (y + (t * by[1]).round() as i32).clamp(0, h - 1);
                let l = from[(sy * w + sx) as usize];
                for (s, v) in sum.iter_mut().zip(l) {
                    *s += v;
                }
            }
            film.light[(y * w + x) as usize] = sum.map(|s| s / (steps + 1) as f32);
        }
    }
}

/// A Gaussian blur in linear light, first along the rows, then along the columns.
fn blur(film: &mut Film, sigma: f64) {
    if sigma < 0.15 {
        return;
    }
    let reach = (3.0 * sigma).ceil() as i64;
    let mut weights: Vec<f32> = (-reach..=reach)
        .map(|i| (-0.5 * (i as f64 / sigma).powi(2)).exp() as f32)
        .collect();
    let sum: f32 = weights.iter().sum();
    for weight in &mut weights {
        *weight /= sum;
    }
    let (w, h) = (film.width as i64, film.height as i64);
    let mut line = vec![[0.0f32; 3]; w.max(h) as usize];
    for (count, length, stride, step) in [(h, w, w, 1), (w, h, 1, w)] {
        for k in 0..count {
            let start = k * stride;
            for (i, slot) in line.iter_mut().enumerate().take(length as usize) {
                *slot = film.light[(start + i as i64 * step) as usize];
            }
            for i in 0..length {
                let mut sum = [0.0f32; 3];
                for (j, weight) in weights.iter().enumerate() {
                    let from = (i + j as i64 - reach).clamp(0, length - 1);
                    let l = line[from as usize];
                    sum[0] += weight * l[0];
                    sum[1] += weight * l[1];
                    sum[2] += weight * l[2];
                }
                film.light[(start + i * step) as usize] = sum;
            }
        }
    }
}
