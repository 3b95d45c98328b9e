//! Holds what the scenes claim about themselves against their own pixels. The data is invented;
//! the truth is known by construction, and these tests read it back from the drawn picture by
//! means that share no code with the drawing.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use witnessmark_scenes::geometry::{Point, Shape, apart, between, path_length};
use witnessmark_scenes::marks::{Card, Crack, Stain};
use witnessmark_scenes::random::Random;
use witnessmark_scenes::random_scenes::{self as scenes, TEST_SIZE};
use witnessmark_scenes::surface::Material;
use witnessmark_scenes::truth::mapped;
use witnessmark_scenes::{Camera, Scene};

fn grey(picture: &image::RgbImage, x: f64, y: f64) -> f64 {
    // Bilinear, with the centre of the first pixel at (0.5, 0.5).
    let (x, y) = (x - 0.5, y - 0.5);
    let (fx, fy) = (x.floor(), y.floor());
    let at = |i: f64, j: f64| {
        let p = picture.get_pixel(
            i.clamp(0.0, f64::from(picture.width() - 1)) as u32,
            j.clamp(0.0, f64::from(picture.height() - 1)) as u32,
        );
        // Back to light, by the sRGB curve of IEC 61966-2-1: an edge is where half the light is.
        p.0.iter()
            .map(|v| (f64::from(*v) / 255.0 + 0.055) / 1.055)
            .map(|v| v.powf(2.4))
            .sum::<f64>()
            * 255.0
    };
    let (u, v) = (x - fx, y - fy);
    (at(fx, fy) * (1.0 - u) + at(fx + 1.0, fy) * u) * (1.0 - v)
        + (at(fx, fy + 1.0) * (1.0 - u) + at(fx + 1.0, fy + 1.0) * u) * v
}

/// Where along a probe the brightness passes half way between its two ends, from its middle.
fn half_way(picture: &image::RgbImage, at: Point, across: Point, reach: f64) -> f64 {
    let steps = 80;
    let value = |k: i32| {
        let t = f64::from(k) / f64::from(steps) * reach;
        grey(picture, at[0] + t * across[0], at[1] + t * across[1])
    };
    let half = (value(-steps) + value(steps)) / 2.0;
    let rising = value(steps) > value(-steps);
    for k in -steps..steps {
        let (a, b) = (value(k), value(k + 1));
        if (a <= half) == rising && (b > half) == rising && (a - b).abs() > 1e-9 {
            return (f64::from(k) + (half - a) / (b - a)) / f64::from(steps) * reach;
        }
    }
    f64::NAN
}

fn plain_camera() -> Camera {
    let mut camera = Camera::looking_at([800, 600], [0.0, 0.0], 170.0, 11.0, -8.0, 6.0);
    camera.sensor.noise = 0.0;
    camera.sensor.vignette = 0.0;
    camera
}

#[test]
fn card_edges_lie_where_the_truth_says() {
    let mut camera = plain_camera();
    camera.bend = [0.02, -0.008];
    let card = Card::lying([4.0, -3.0], 0.3, [0.35; 3], 3);
    camera.sensor.exposure = 0.15;
    let mut scene = Scene::of(Material::Paper([0.1; 3]), 1).card(card);
    scene.light.sun = [0.0, 0.0, 1.0];
    let drawn = scene.render(&camera, 1);
    let corners = &drawn.truth.cards[0].corners_mm;
    let mut sum = 0.0;
    let mut n = 0.0;
    for i in 0..4 {
        let (a, b) = (corners[i], corners[(i + 1) % 4]);
        for k in 3..18 {
            let on = between(a, b, f64::from(k) / 20.0);
            let long = apart(a, b);
            // Straight outwards on the plane, seen on the picture.
            let out = [on[0] + (b[1] - a[1]) / long, on[1] - (b[0] - a[0]) / long];
            let (p, q) = (camera.to_pixel(on).unwrap(), camera.to_pixel(out).unwrap());
            let d = apart(p, q);
            let off = half_way(&drawn.rgb, p, [(q[0] - p[0]) / d, (q[1] - p[1]) / d], 3.0);
            sum += off;
            n += 1.0;
            assert!(off.abs() < 0.45, "edge {i} at {k}/20 is {off} px off");
        }
    }
    // The contact shadow pulls the edge inwards by less than a tenth, as a real one does.
    assert!(f64::abs(sum / n) < 0.12, "edges are {} px off", sum / n);
}

#[test]
fn crack_is_darkest_on_its_course() {
    let camera = plain_camera();
    let mut random = Random::new(5);
    let path = Crack::wandering([-40.0, 5.0], 0.1, 80.0, 0.5, &mut random);
    assert!((path_length(&path) - 80.0).abs() < 1e-6);
    let scene = Scene::of(Material::Paper([0.6; 3]), 1).crack(Crack::along(path, 0.6, 0.9));
    let drawn = scene.render(&camera, 1);
    let line = &drawn.truth.cracks[0].polyline_px;
    let mut off = Vec::new();
    for w in line.windows(9).step_by(9).skip(2) {
        let (p, d) = (w[4], apart(w[0], w[8]));
        let n = [-(w[8][1] - w[0][1]) / d, (w[8][0] - w[0][0]) / d];
        // The centre of mass of the darkness on a probe across.
        let rim = (grey(&drawn.rgb, p[0] + 6.0 * n[0], p[1] + 6.0 * n[1])
            + grey(&drawn.rgb, p[0] - 6.0 * n[0], p[1] - 6.0 * n[1]))
            / 2.0;
        let (mut mass, mut moment) = (0.0, 0.0);
        for k in -50..=50 {
            let t = f64::from(k) / 10.0;
            let dark = (rim - grey(&drawn.rgb, p[0] + t * n[0], p[1] + t * n[1])).max(0.0);
            mass += dark;
            moment += dark * t;
        }
        assert!(mass > 10.0, "no line at {p:?}");
        off.push(moment / mass);
    }
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    assert!(off.len() > 20 && mean.abs() < 0.08, "{mean}");
    assert!(off.iter().all(|o| o.abs() < 0.6), "{off:?}");
}

#[test]
fn stain_has_its_half_contrast_on_its_outline() {
    let mut camera = plain_camera();
    camera.sensor.blur = 0.5;
    let mut stain = Stain::random([0.0, 0.0], 20.0, 0.12, &mut Random::new(9));
    // A faint stain, so that the curve of the file is nearly straight between its two levels.
    stain.strength = 0.15;
    stain.soft = 1.0;
    let drawn = Scene::of(Material::Paper([0.5; 3]), 1)
        .stain(stain)
        .render(&camera, 1);
    let truth = &drawn.truth.stains[0];
    let ring = &truth.polygon_px;
    let off: Vec<f64> = (0..ring.len())
        .step_by(24)
        .map(|i| {
            let p = ring[i];
            let d = apart(p, truth.middle_px);
            let out = [
                (p[0] - truth.middle_px[0]) / d,
                (p[1] - truth.middle_px[1]) / d,
            ];
            half_way(&drawn.rgb, p, out, 9.0)
        })
        .collect();
    let mean = off.iter().sum::<f64>() / off.len() as f64;
    assert!(mean.abs() < 0.5, "outline is {mean} px off: {off:?}");
}

#[test]
fn camera_goes_to_the_plane_and_back() {
    for seed in 0..40 {
        let setup = scenes::card_setup(seed, TEST_SIZE);
        let camera = &setup.camera;
        for p in [[0.5, 0.5], [800.0, 600.0], [1599.5, 3.0], [20.0, 1180.0]] {
            let q = camera.to_pixel(camera.to_plane(p).unwrap()).unwrap();
            assert!(apart(p, q) < 1e-6, "seed {seed}: {p:?} came back as {q:?}");
        }
    }
}

#[test]
fn homography_of_a_perfect_lens_is_exact() {
    let a = Camera::looking_at([800, 600], [0.0, 0.0], 300.0, 10.0, 4.0, -8.0);
    let b = Camera::looking_at([640, 480], [20.0, -10.0], 260.0, -7.0, 12.0, 15.0);
    let pair = witnessmark_scenes::truth::pair(&a, &b);
    assert!(pair.points.len() > 100);
    assert!(pair.worst_px < 1e-6, "{}", pair.worst_px);
    for plane in [[0.0, 0.0], [30.0, 12.0]] {
        let (p, q) = (a.to_pixel(plane).unwrap(), b.to_pixel(plane).unwrap());
        assert!(apart(mapped(&pair.homography, p), q) < 1e-6);
    }
}

#[test]
fn card_scenes_keep_their_promises() {
    for seed in 0..200 {
        let setup = scenes::card_setup(seed, TEST_SIZE);
        let truth = setup.truth();
        assert!(truth.cards[0].whole, "seed {seed}: the card is cut off");
        assert_eq!(truth.lengths.len(), 3);
        let c = truth.cards[0].corners_px;
        let wide = apart(c[0], c[1]);
        assert!(
            (160.0..1100.0).contains(&wide),
            "seed {seed}: {wide} px wide"
        );
        let shape = Shape::polygon(c.to_vec(), 0.0);
        let middle = between(between(c[0], c[2], 0.5), between(c[1], c[3], 0.5), 0.5);
        assert!(shape.distance(middle) < 0.0);
        // Clockwise on a picture whose y points down: the cross product is positive.
        let turn =
            (c[1][0] - c[0][0]) * (c[2][1] - c[1][1]) - (c[1][1] - c[0][1]) * (c[2][0] - c[1][0]);
        assert!(turn > 0.0, "seed {seed}: corners run anticlockwise");
    }
}

#[test]
fn cracks_and_stains_are_on_the_picture() {
    for seed in 0..120 {
        let crack = scenes::crack_setup(seed, seed % 2 == 0, TEST_SIZE);
        for p in &crack.truth().cracks[0].polyline_px {
            assert!(
                crack.camera.sees(*p, 2.0),
                "seed {seed}: crack leaves at {p:?}"
            );
        }
        let stain = scenes::stain_setup(seed, TEST_SIZE);
        for p in &stain.truth().stains[0].polygon_px {
            assert!(
                stain.camera.sees(*p, 2.0),
                "seed {seed}: stain leaves at {p:?}"
            );
        }
    }
}

#[test]
fn a_seed_gives_the_same_picture_twice_and_another_seed_another() {
    let size = [320, 240];
    let a = scenes::random_crack_scene(3, true, size);
    let b = scenes::random_crack_scene(3, true, size);
    let c = scenes::random_crack_scene(4, true, size);
    assert_eq!(a.rgb, b.rgb);
    assert_ne!(a.rgb, c.rgb);
}

#[test]
fn demo_photos_can_be_measured_and_tell_one_story() {
    use witnessmark_scenes::demo::{Subject, shots, walks};
    let all = shots();
    assert!(all.len() >= 25);
    // In the order of time, no two of one name, all five walkarounds.
    assert!(all.windows(2).all(|w| w[0].taken < w[1].taken));
    assert!((0..walks().len()).all(|k| all.iter().any(|s| s.walk == k)));
    let mut cracks = Vec::new();
    for shot in &all {
        // Small, since the geometry is the same at any size.
        let truth = shot.render([160, 120]).truth;
        let papers = matches!(
            shot.subject,
            Subject::Whole(_) | Subject::DataPlate | Subject::LogPage(_) | Subject::Meter(_)
        );
        assert_eq!(
            truth.cards.len(),
            usize::from(!papers),
            "{}",
            shot.file_name
        );
        for card in &truth.cards {
            let inside = |p: &Point| (1.0..159.0).contains(&p[0]) && (1.0..119.0).contains(&p[1]);
            assert!(card.corners_px.iter().all(inside), "{}", shot.file_name);
        }
        if let Subject::Fairing(mm) = shot.subject {
            let drawn = truth.cracks[0].length_mm;
            assert!(
                (drawn - mm).abs() < 1e-6,
                "{mm} mm asked for, {drawn} mm drawn"
            );
            cracks.push(truth.cracks[0].polyline_mm.clone());
        }
    }
    // One crack that grows: every older course lies on the newest.
    assert_eq!(cracks.len(), 4);
    for older in &cracks {
        assert!(scenes::strays(older, &cracks[3]) < 0.05);
    }
}

#[test]
fn a_demo_photo_is_a_jpeg_that_says_what_it_is() {
    let shot = &witnessmark_scenes::demo::shots()[5];
    let photo = shot.draw();
    let read = exif::Reader::new()
        .read_from_container(&mut std::io::Cursor::new(&photo.jpeg))
        .unwrap();
    let text = |tag| {
        let field = read.get_field(tag, exif::In::PRIMARY).unwrap();
        field.display_value().to_string()
    };
    assert!(text(exif::Tag::ImageDescription).contains("not a photograph"));
    assert_eq!(text(exif::Tag::Make), "\"Witnessmark demo\"");
    let corners = photo.taps.card.unwrap();
    for (tap, truth) in corners.iter().zip(photo.truth.cards[0].corners_px) {
        assert!(apart(*tap, truth) < 15.0);
    }
    assert_eq!(photo.taps.ends.len(), 2);
}
