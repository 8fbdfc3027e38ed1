//! The shell in WebGL2: the only place that knows the 3D library.
//!
//! In: a [`Scene`], an [`Eye`], colours. Out: pixels on a canvas, drawn when asked. Radius is carried by lightness in the
//! `OKLab` space, where equal steps look equal; light adds at most a seventh.

use std::sync::Arc;

use geometry::num;
use three_d::{
    Blend, ClearState, Context as Graphics, Cull, DepthTest, ElementBuffer, Mat4, Program,
    RenderStates, RenderTarget, Vec2, Vec3, Vec4, VertexBuffer, Viewport, WriteMask, vec2, vec3,
    vec4,
};
use wasm_bindgen::JsCast;
use web_sys::WebGl2RenderingContext;

use super::eye::{Axes, Eye, Xyz};
use super::ladder::Ladder;
use super::scene::{Pen, Scene, Stroke, single};

/// Most ticks of the ladder that are drawn as lines of equal radius; the shader has as many places.
const MOST_TICKS: usize = 24;

const SKIN_VERTEX: &str = "
uniform mat4 to_clip;
uniform vec3 which;
in vec3 place;
in vec3 outward;
in vec3 bends;
in float carried;
out vec3 normal;
out float bend;
out float bare;
void main() {
    normal = outward;
    bend = dot(bends, which);
    bare = carried;
    gl_Position = to_clip * vec4(place, 1.0);
}";

// OKLab to linear sRGB and the transfer function: Björn Ottosson, «A perceptual color space for image processing»
// (2020); IEC 61966-2-1.
const SKIN_FRAGMENT: &str = "
uniform vec3 near;
uniform vec3 light;
uniform vec2 ends;
uniform vec3 tight;
uniform vec3 level;
uniform vec4 inside;
uniform vec4 equal;
uniform vec4 hatch;
uniform float ticks[24];
uniform float count;
uniform float ratio;
uniform float stripes;
in vec3 normal;
in float bend;
in float bare;
out vec4 colour;
vec3 shown(vec3 lab) {
    float l = lab.x + 0.3963377774 * lab.y + 0.2158037573 * lab.z;
    float m = lab.x - 0.1055613458 * lab.y - 0.0638541728 * lab.z;
    float s = lab.x - 0.0894841775 * lab.y - 1.2914855480 * lab.z;
    l = l * l * l; m = m * m * m; s = s * s * s;
    vec3 linear = vec3(
        4.0767416621 * l - 3.3077115913 * m + 0.2309699292 * s,
        -1.2684380046 * l + 2.6097574011 * m - 0.3413193965 * s,
        -0.0041960863 * l - 0.7034186147 * m + 1.7076147010 * s);
    linear = clamp(linear, 0.0, 1.0);
    vec3 low = 12.92 * linear;
    vec3 high = 1.055 * pow(linear, vec3(1.0 / 2.4)) - 0.055;
    return mix(high, low, vec3(lessThan(linear, vec3(0.0031308))));
}
void main() {
    vec3 n = normalize(normal);
    float size = abs(bend);
    // Taken before any branch, where the neighbours' values are sure.
    // The slope's own length: the sum of its parts is up to 1.4 times that, and a line drawn by it swells where it turns.
    float change = length(vec2(dFdx(size), dFdy(size)));
    float facing = dot(n, near);
    float slant = fwidth(facing);
    if (!gl_FrontFacing) {
        colour = vec4(inside.rgb, 1.0);
        return;
    }
    float part = clamp((log(1.0 / max(size, 1e-9)) - ends.x) / (ends.y - ends.x), 0.0, 1.0);
    vec3 lab = mix(tight, level, part);
    lab.x *= 6.0 / 7.0 + max(dot(n, light), 0.0) / 7.0;
    vec3 paint = shown(lab);
    if (stripes > 0.5) {
        // A wall of lamps seen in the skin: bands follow the way the normal turns.
        float wave = sin(26.0 * asin(clamp(dot(n, light), -1.0, 1.0)));
        paint = mix(paint, equal.rgb, 0.75 * smoothstep(-0.15, 0.15, wave));
    } else {
        float line = 0.0;
        for (int i = 0; i < 24; i++) {
            if (float(i) >= count) break;
            {
                float off = abs(size - ticks[i]) / max(change, 1e-12);
                // Where curvature hardly changes there is no line to draw, only a region.
                float sure = smoothstep(0.002, 0.006, change / (ticks[i] * ratio));
                line = max(line, sure * (1.0 - smoothstep(0.1 * ratio, 0.1 * ratio + 0.8, off)));
            }
        }
        line *= smoothstep(0.0, 0.2, facing);
        paint = mix(paint, equal.rgb, line * equal.a);
        if (bend > exp(-ends.y)) {
            float at = mod(gl_FragCoord.x - gl_FragCoord.y, 7.0 * ratio);
            paint = mix(paint, hatch.rgb, hatch.a * (1.0 - smoothstep(0.8 * ratio, 1.4 * ratio, at)));
        }
    }
    if (bare > 0.5) {
        // Nothing was read here: wide strokes the other way.
        float at = mod(gl_FragCoord.x + gl_FragCoord.y, 14.0 * ratio);
        paint = mix(paint, hatch.rgb, 0.6 * hatch.a * (1.0 - smoothstep(0.6 * ratio, 1.2 * ratio, at)));
    }
    // The outline: where the skin turns away.
    float edge = 1.0 - smoothstep(0.6 * ratio, 1.4 * ratio, facing / max(slant, 1e-6));
    paint = mix(paint, hatch.rgb, 0.7 * edge);
    colour = vec4(paint, 1.0);
}";

const STROKE_VERTEX: &str = "
uniform mat4 to_clip;
uniform vec3 near;
uniform vec2 size;
uniform float lift;
uniform vec4 inks[7];
uniform float widths[7];
in vec3 here;
in vec3 there;
in vec3 outward;
in vec3 pen;
out vec4 ink;
out float facing;
out vec2 across;
void main() {
    vec4 a = to_clip * vec4(here, 1.0);
    vec4 b = to_clip * vec4(there, 1.0);
    vec2 way = (b.xy - a.xy) * size;
    float far = length(way);
    way = far > 1e-6 ? way / far : vec2(1.0, 0.0);
    int k = int(pen.y + 0.5);
    float reach = widths[k] * 0.5 + 0.5;
    vec2 off = vec2(-way.y, way.x) * pen.x * reach - way * widths[k] * 0.25;
    // A stem shows where its point lies inside the skin too.
    gl_Position = vec4(a.xy + 2.0 * off / size, a.z - lift * (k == 6 ? 60.0 : 1.0), 1.0);
    ink = inks[k];
    facing = dot(outward, outward) < 0.5 ? 1.0 : dot(outward, near);
    across = vec2(pen.x * pen.z * reach, widths[k] * 0.5);
}";

const STROKE_FRAGMENT: &str = "
in vec4 ink;
in float facing;
in vec2 across;
out vec4 colour;
void main() {
    if (facing < 0.0) discard;
    float cover = clamp(across.y + 0.5 - abs(across.x), 0.0, 1.0);
    colour = vec4(ink.rgb, ink.a * cover);
}";

/// A colour as the browser gives it: red, green, blue and opacity, from 0 to 1.
pub type Colour = [f64; 4];

/// The colours of the drawing, from the style sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Colours {
    /// The sheet behind.
    pub sheet: Colour,
    /// The tightest radius.
    pub tight: Colour,
    /// The flattest.
    pub flat: Colour,
    /// The inside of the skin.
    pub inside: Colour,
    /// Lines of equal radius.
    pub equal: Colour,
    /// Hatching of hollows, and the outline.
    pub hatch: Colour,
    /// One for each [`Pen`], in its order.
    pub pens: [Colour; 7],
}

/// Widths of the pens, px, in the order of [`Pen`].
const WIDTHS: [f64; 7] = [0.75, 1.0, 1.6, 1.4, 1.6, 2.2, 1.4];

/// Which curvature is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shade {
    /// Of the section, square to the body.
    Across,
    /// Along the body.
    Along,
    /// Both ways: the root of Gauss's curvature, which no flat sheet takes without stretching.
    Compound,
    /// None: stripes of light, which show ripples.
    Stripes,
}

impl Shade {
    /// Which of a vertex's curvatures it is of; light is of none, and takes the first.
    pub fn number(self) -> usize {
        match self {
            Self::Across | Self::Stripes => 0,
            Self::Along => 1,
            Self::Compound => 2,
        }
    }
}

/// What is drawn in one go.
#[derive(Debug)]
pub struct ShellLook<'a> {
    /// From where.
    pub eye: &'a Eye,
    /// In which colours.
    pub colours: &'a Colours,
    /// Which curvature.
    pub shade: Shade,
    /// On which scale.
    pub ladder: &'a Ladder,
    /// Width and height of the drawing, px.
    pub size: (f64, f64),
    /// Pixels of the screen in one of the page.
    pub ratio: f64,
}

struct SkinBuffers {
    places: VertexBuffer<[f32; 3]>,
    outward: VertexBuffer<[f32; 3]>,
    bends: VertexBuffer<[f32; 3]>,
    carried: VertexBuffer<f32>,
    triangles: ElementBuffer<u32>,
}

struct StrokeBuffers {
    here: VertexBuffer<[f32; 3]>,
    there: VertexBuffer<[f32; 3]>,
    outward: VertexBuffer<[f32; 3]>,
    /// Side of the way to the other end, number of the pen, and 1 or −1 for either end.
    pen: VertexBuffer<[f32; 3]>,
    corners: ElementBuffer<u32>,
}

/// A canvas with its programs and what was last sent to it.
pub struct Paint {
    canvas: web_sys::HtmlCanvasElement,
    gl: WebGl2RenderingContext,
    graphics: Graphics,
    skin: Program,
    stroke: Program,
    scene: Option<Arc<Scene>>,
    skin_buffers: SkinBuffers,
    stroke_buffers: StrokeBuffers,
}

/// Why nothing can be drawn, in a sentence's words.
pub type NoGraphics = &'static str;

impl Paint {
    /// Takes hold of a canvas.
    ///
    /// # Errors
    /// A sentence, where the browser gives no WebGL2 or has lost it.
    pub fn on(canvas: &web_sys::HtmlCanvasElement) -> Result<Self, NoGraphics> {
        const NONE: NoGraphics = "This browser gives the page no WebGL2 graphics";
        const LOST: NoGraphics = "The browser took the graphics away";
        let options = js_sys::Object::new();
        // Kept after drawing, so that what is on the canvas can be read back and printed.
        for (name, value) in [
            ("antialias", true),
            ("alpha", false),
            ("depth", true),
            ("preserveDrawingBuffer", true),
        ] {
            js_sys::Reflect::set(&options, &name.into(), &value.into()).map_err(|_error| NONE)?;
        }
        let gl = canvas
            .get_context_with_context_options("webgl2", &options)
            .map_err(|_error| NONE)?
            .ok_or(NONE)?
            .dyn_into::<WebGl2RenderingContext>()
            .map_err(|_other| NONE)?;
        if gl.is_context_lost() {
            return Err(LOST);
        }
        let context = three_d::context::Context::from_webgl2_context(gl.clone());
        #[expect(
            clippy::arc_with_non_send_sync,
            reason = "the library asks for it; the page has one thread"
        )]
        let context = Arc::new(context);
        let graphics = Graphics::from_gl_context(context).map_err(|_error| NONE)?;
        let program = |vertex, fragment| {
            Program::from_source(&graphics, vertex, fragment).map_err(|error| {
                leptos::logging::warn!("a shader: {error}");
                "The graphics of this device could not be set up"
            })
        };
        let skin = program(SKIN_VERTEX, SKIN_FRAGMENT)?;
        let stroke = program(STROKE_VERTEX, STROKE_FRAGMENT)?;
        let skin_buffers = SkinBuffers {
            places: VertexBuffer::new(&graphics),
            outward: VertexBuffer::new(&graphics),
            bends: VertexBuffer::new(&graphics),
            carried: VertexBuffer::new(&graphics),
            triangles: ElementBuffer::new(&graphics),
        };
        let stroke_buffers = StrokeBuffers {
            here: VertexBuffer::new(&graphics),
            there: VertexBuffer::new(&graphics),
            outward: VertexBuffer::new(&graphics),
            pen: VertexBuffer::new(&graphics),
            corners: ElementBuffer::new(&graphics),
        };
        Ok(Self {
            canvas: canvas.clone(),
            gl,
            graphics,
            skin,
            stroke,
            scene: None,
            skin_buffers,
            stroke_buffers,
        })
    }

    /// Whether the browser has taken the graphics away.
    pub fn lost(&self) -> bool {
        self.gl.is_context_lost()
    }

    /// Sends a scene and its strokes, if they are not there already; `strokes` with the pens they are drawn with now.
    pub fn send(&mut self, scene: &Arc<Scene>, strokes: &[Stroke]) {
        if self.lost() {
            return;
        }
        if self
            .scene
            .as_ref()
            .is_none_or(|sent| !Arc::ptr_eq(sent, scene))
        {
            let skin = &scene.skin;
            self.skin_buffers.places.fill(&skin.places);
            self.skin_buffers.outward.fill(&skin.outward);
            self.skin_buffers.bends.fill(&skin.bends);
            self.skin_buffers.carried.fill(&skin.carried);
            self.skin_buffers.triangles.fill(&skin.triangles);
            self.scene = Some(Arc::clone(scene));
        }
        self.send_strokes(scene.middle, strokes);
    }

    fn send_strokes(&mut self, middle: Xyz, strokes: &[Stroke]) {
        let mut order: Vec<&Stroke> = strokes.iter().collect();
        num::put_in_order(&mut order, |a, b| a.pen.cmp(&b.pen));
        let off =
            |place: Xyz| -> [f32; 3] { core::array::from_fn(|i| single(place[i] - middle[i])) };
        let (mut here, mut there, mut outward, mut pens, mut corners) =
            (Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new());
        let mut next = 0_u32;
        for stroke in order {
            let pen = f32::from(number(stroke.pen));
            for pair in stroke.points.windows(2) {
                let ends = [off(pair[0].0), off(pair[1].0)];
                for (end, sides) in [(0, [1.0, -1.0]), (1, [-1.0, 1.0])] {
                    let out = pair[end].1.map_or([0.0; 3], |out| out.map(single));
                    for side in sides {
                        here.push(ends[end]);
                        there.push(ends[1 - end]);
                        outward.push(out);
                        pens.push([side, pen, if end == 0 { 1.0 } else { -1.0 }]);
                    }
                }
                corners.extend([0, 1, 2, 2, 1, 3].map(|k| next + k));
                next += 4;
            }
        }
        self.stroke_buffers.here.fill(&here);
        self.stroke_buffers.there.fill(&there);
        self.stroke_buffers.outward.fill(&outward);
        self.stroke_buffers.pen.fill(&pens);
        self.stroke_buffers.corners.fill(&corners);
    }

    /// Draws what was sent.
    pub fn draw(&self, look: &ShellLook<'_>) {
        let Some(scene) = self.scene.as_ref().filter(|_| !self.lost()) else {
            return;
        };
        let pixels = |size: f64| {
            u32::try_from(num::count_of(size * look.ratio))
                .unwrap_or(1)
                .max(1)
        };
        let (width, height) = (pixels(look.size.0), pixels(look.size.1));
        if self.canvas.width() != width || self.canvas.height() != height {
            self.canvas.set_width(width);
            self.canvas.set_height(height);
        }
        let [red, green, blue, _] = look.colours.sheet.map(single);
        RenderTarget::screen(&self.graphics, width, height)
            .clear(ClearState::color_and_depth(red, green, blue, 1.0, 1.0));
        let axes = look.eye.axes();
        let to_clip = to_clip(look, &axes, scene);
        let viewport = Viewport::new_at_origo(width, height);
        self.draw_skin(look, &axes, to_clip, viewport);
        self.draw_strokes(look, &axes, (to_clip, scene.reach), viewport);
    }

    fn draw_skin(&self, look: &ShellLook<'_>, axes: &Axes, to_clip: Mat4, viewport: Viewport) {
        let (program, buffers, colours) = (&self.skin, &self.skin_buffers, look.colours);
        if buffers.triangles.count() == 0 {
            return;
        }
        let lit: Xyz = core::array::from_fn(|i| {
            // From the upper left, before the body.
            -0.35 * axes.right[i] + 0.55 * axes.up[i] + 0.76 * axes.near[i]
        });
        let (tight, flat) = (num::ln(look.ladder.tight), num::ln(look.ladder.flat));
        let mut ticks = [0.0_f32; MOST_TICKS];
        for (tick, (radius, _)) in ticks.iter_mut().zip(&look.ladder.ticks) {
            *tick = single(1.0 / radius);
        }
        let count = look.ladder.ticks.len().min(MOST_TICKS);
        let mut which = [0.0; 3];
        which[look.shade.number()] = 1.0;
        let stripes: f32 = if look.shade == Shade::Stripes {
            1.0
        } else {
            0.0
        };
        program.use_uniform("to_clip", to_clip);
        program.use_uniform("which", vector(which));
        program.use_uniform("near", vector(axes.near));
        program.use_uniform("light", vector(lit));
        program.use_uniform("ends", vec2(single(tight), single(flat)));
        program.use_uniform("tight", vector(oklab(colours.tight)));
        program.use_uniform("level", vector(oklab(colours.flat)));
        program.use_uniform("inside", ink(colours.inside));
        program.use_uniform("equal", ink(colours.equal));
        program.use_uniform("hatch", ink(colours.hatch));
        program.use_uniform_array("ticks", &ticks);
        program.use_uniform("count", single(count as f64));
        program.use_uniform("ratio", single(look.ratio));
        program.use_uniform("stripes", stripes);
        program.use_vertex_attribute("place", &buffers.places);
        program.use_vertex_attribute("outward", &buffers.outward);
        program.use_vertex_attribute("bends", &buffers.bends);
        program.use_vertex_attribute("carried", &buffers.carried);
        let states = RenderStates {
            cull: Cull::None,
            depth_test: DepthTest::LessOrEqual,
            ..RenderStates::default()
        };
        program.draw_elements(states, viewport, &buffers.triangles);
    }

    fn draw_strokes(
        &self,
        look: &ShellLook<'_>,
        axes: &Axes,
        (to_clip, reach): (Mat4, f64),
        viewport: Viewport,
    ) {
        let (program, buffers) = (&self.stroke, &self.stroke_buffers);
        if buffers.corners.count() == 0 {
            return;
        }
        let inks: [Vec4; 7] = look.colours.pens.map(ink);
        let widths = WIDTHS.map(|width| single(width * look.ratio));
        let size: Vec2 = vec2(
            single(look.size.0 * look.ratio),
            single(look.size.1 * look.ratio),
        );
        program.use_uniform("to_clip", to_clip);
        program.use_uniform("near", vector(axes.near));
        program.use_uniform("size", size);
        // Lifted off the skin by its facets' deviation and a pixel's worth of slope, so that they are not drowned.
        let lift = (4.0 + 1.2 / look.eye.scale) / (1.05 * reach);
        program.use_uniform("lift", single(lift));
        program.use_uniform_array("inks", &inks);
        program.use_uniform_array("widths", &widths);
        program.use_vertex_attribute("here", &buffers.here);
        program.use_vertex_attribute("there", &buffers.there);
        program.use_vertex_attribute("outward", &buffers.outward);
        program.use_vertex_attribute("pen", &buffers.pen);
        let states = RenderStates {
            cull: Cull::None,
            depth_test: DepthTest::LessOrEqual,
            write_mask: WriteMask::COLOR,
            blend: Blend::TRANSPARENCY,
        };
        program.draw_elements(states, viewport, &buffers.corners);
    }
}

fn number(pen: Pen) -> u8 {
    match pen {
        Pen::Waterline => 0,
        Pen::Station => 1,
        Pen::Run => 2,
        Pen::Rim => 3,
        Pen::Cut => 4,
        Pen::Picked => 5,
        Pen::Stem => 6,
    }
}

/// From mm off the scene's middle to the corners of the screen; depth takes the body's reach.
fn to_clip(look: &ShellLook<'_>, axes: &Axes, scene: &Scene) -> Mat4 {
    let (eye, (width, height)) = (look.eye, look.size);
    let middle = eye.project(axes, scene.middle);
    let (across, upward) = (2.0 * eye.scale / width, 2.0 * eye.scale / height);
    let depth = -1.0 / (1.05 * scene.reach);
    let column = |i: usize| {
        vec4(
            single(axes.right[i] * across),
            single(axes.up[i] * upward),
            single(axes.near[i] * depth),
            0.0,
        )
    };
    let last = vec4(
        single(2.0 * middle.0 / width - 1.0),
        single(1.0 - 2.0 * middle.1 / height),
        0.0,
        1.0,
    );
    Mat4::from_cols(column(0), column(1), column(2), last)
}

fn vector(place: Xyz) -> Vec3 {
    let [x, y, z] = place.map(single);
    vec3(x, y, z)
}

fn ink(colour: Colour) -> Vec4 {
    let [red, green, blue, opacity] = colour.map(single);
    vec4(red, green, blue, opacity)
}

/// A colour in `OKLab`.
///
/// # Source
/// Björn Ottosson, «A perceptual color space for image processing» (2020).
fn oklab([red, green, blue, _]: Colour) -> [f64; 3] {
    let linear = |c: f64| {
        if c <= 0.04045 {
            c / 12.92
        } else {
            num::powf((c + 0.055) / 1.055, 2.4)
        }
    };
    let (r, g, b) = (linear(red), linear(green), linear(blue));
    let root = |value: f64| num::powf(value.max(0.0), 1.0 / 3.0);
    let l = root(0.412_221_470_8 * r + 0.536_332_536_3 * g + 0.051_445_992_9 * b);
    let m = root(0.211_903_498_2 * r + 0.680_699_545_1 * g + 0.107_396_956_6 * b);
    let s = root(0.088_302_461_9 * r + 0.281_718_837_6 * g + 0.629_978_700_5 * b);
    [
        0.210_454_255_3 * l + 0.793_617_785_0 * m - 0.004_072_046_8 * s,
        1.977_998_495_1 * l - 2.428_592_205_0 * m + 0.450_593_709_9 * s,
        0.025_904_037_1 * l + 0.782_771_766_2 * m - 0.808_675_766_0 * s,
    ]
}
