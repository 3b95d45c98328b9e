//! The whole demo aircraft, an invented high-wing four-seater, on the apron by the sea.

use super::day::{Day, day};
use super::livery::paint;
use super::model::{BODY, hangar, model};
use super::solid::{P3, Triangle, cover, dot, minus, place, unit};
use crate::camera::Camera;
use crate::geometry::Point;
use crate::random::Random;
use crate::render::{Film, develop};
use crate::scene::Rendered;
use crate::truth::Truth;

/// The aircraft from a direction in degrees from its left side, positive towards its tail.
pub(super) fn overall(from: f64, walk: usize, size: [u32; 2], seed: u64) -> Rendered {
    let mut random = Random::new(seed);
    let day = day(walk);
    let mut camera = Camera::looking_at(
        size,
        [
            0.55 + random.range(-0.2, 0.2),
            -1.25 + random.range(-0.1, 0.1),
        ],
        9.9 + random.range(-0.25, 0.25),
        from,
        -3.2 + random.range(-0.8, 0.8),
        random.range(-1.2, 1.2),
    );
    camera.sensor = super::story::sensor(walk);
    camera.sensor.exposure = 0.36;
    // The world turns with the viewer, so that sea and hangar stay behind the aircraft.
    let (s, c) = from.to_radians().sin_cos();
    let turn = move |p: P3| [c * p[0] + s * p[2], p[1], c * p[2] - s * p[0]];
    let back = move |p: P3| [c * p[0] - s * p[2], p[1], c * p[2] + s * p[0]];
    let mut triangles = model(0.5 + 0.9 * walk as f64);
    let solid = triangles.len();
    let put = if from < 90.0 {
        [9.0, 0.0, 34.0]
    } else {
        [-22.0, 0.0, 36.0]
    };
    hangar(put, 14.0, 5.6, 0.25, &mut triangles);
    for triangle in &mut triangles[solid..] {
        for corner in &mut triangle.corners {
            corner.at = back(corner.at);
            corner.normal = back(corner.normal);
        }
    }
    let sun = back(day.sun);
    let day_here = Day { sun, ..day };
    // Shadow on the ground: every triangle thrown along the light, drawn as a mask.
    let thrown: Vec<Triangle> = triangles[..solid]
        .iter()
        .map(|t| {
            let mut t = *t;
            for corner in &mut t.corners {
                let k = corner.at[1] / sun[1];
                corner.at = [0, 1, 2].map(|i| corner.at[i] - sun[i] * k);
            }
            t
        })
        .collect();
    let pixels = size[0] as usize * size[1] as usize;
    let mut film = Film {
        width: size[0] as usize,
        height: size[1] as usize,
        light: vec![[0.0; 3]; pixels],
    };
    let shifts = [
        [-0.375, -0.125],
        [0.125, -0.375],
        [-0.125, 0.375],
        [0.375, 0.125],
    ];
    // Ground and sky are smooth enough to be drawn once a pixel, with the part of it that they
    // fill and the part of that in shadow counted over the four passes.
    let mut open = vec![0u8; pixels];
    let mut dark = vec![0u8; pixels];
    for shift in &shifts {
        let hits = cover(&triangles, &camera, *shift);
        let shadow = cover(&thrown, &camera, *shift);
        for (i, slot) in film.light.iter_mut().enumerate() {
            let Some(hit) = &hits[i] else {
                open[i] += 1;
                dark[i] += u8::from(shadow[i].is_some());
                continue;
            };
            let triangle = &triangles[hit.triangle as usize];
            let corner = place(triangle, hit);
            let away = minus(corner.at, camera.eye);
            let far = dot(away, away).sqrt();
            let (colour, gloss) = paint(triangle.part, &corner, far / camera.focal);
            // Under the wing the sun does not reach the body.
            let own = corner.own;
            let under = triangle.part == BODY && own[2] > 1.45 && (2.0..3.7).contains(&own[0]);
            let lit = if under && sun[1] < -0.6 { 0.35 } else { 1.0 };
            let haze = ((far - 14.0) / 160.0).clamp(0.0, 0.5) as f32;
            let l = day_here.shine(colour, corner.normal, unit(away), gloss, lit);
            for (k, sum) in slot.iter_mut().enumerate() {
                *sum += (l[k] + (day_here.sky_low[k] - l[k]) * haze) / shifts.len() as f32;
            }
        }
    }
    for (i, slot) in film.light.iter_mut().enumerate() {
        if open[i] == 0 {
            continue;
        }
        let pixel: Point = [
            (i % size[0] as usize) as f64 + 0.5,
            (i / size[0] as usize) as f64 + 0.5,
        ];
        let shade = f32::from(dark[i]) / f32::from(open[i]);
        let light = background(&day_here, &camera, pixel, &turn, shade);
        for (sum, l) in slot.iter_mut().zip(light) {
            *sum += l * f32::from(open[i]) / shifts.len() as f32;
        }
    }
    Rendered {
        rgb: develop(film, &camera.sensor, seed),
        truth: Truth {
            size,
            sharp: true,
            blur_px: camera.sensor.blur,
            ..Truth::default()
        },
    }
}

fn background(
    day: &Day,
    camera: &Camera,
    pixel: Point,
    turn: &dyn Fn(P3) -> P3,
    shade: f32,
) -> [f32; 3] {
    let ray = camera.ray(pixel);
    let ray = unit([ray.x, ray.y, ray.z]);
    let level = turn(ray);
    if ray[1] < 0.004 {
        return day.sky([level[0], level[1].min(-0.001), level[2]], false);
    }
    let k = -camera.eye[1] / ray[1];
    let at = [0, 1, 2].map(|i| camera.eye[i] + ray[i] * k);
    let foot = k / camera.focal / ray[1].sqrt();
    let (colour, gloss) = day.ground(turn(at), foot);
    let light = day.shine(colour, [0.0, -1.0, 0.0], ray, gloss, 1.0 - 0.94 * shade);
    let light = light.map(|v| v * (1.0 - 0.18 * shade));
    let haze = ((k - 14.0) / 200.0).clamp(0.0, 0.45) as f32;
    [0, 1, 2].map(|i| light[i] + (day.sky_low[i] - light[i]) * haze)
}
