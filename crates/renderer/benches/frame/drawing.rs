//! How much of a card draws: cards of data centres have compute units that run no shaders of pixels. The same
//! arithmetic is timed as a shader of pixels and as one that computes.

use std::time::Instant;

use crate::Outcome;

/// Side of the square of invocations: more than a card has lanes (a choice of ours).
const SIDE: u32 = 1024;
/// Multiplications and additions of four numbers in one of them, so that reading and writing count for nothing beside
/// them (a choice of ours).
const STEPS: u32 = 4096;
/// Of so many runs the fastest counts: the first ones wake the card (a choice of ours).
const RUNS: usize = 5;

const SHADER: &str = "
override STEPS: u32;
@group(0) @binding(0) var<storage, read_write> sums: array<vec4<f32>>;
fn sum(at: vec2<f32>) -> vec4<f32> {
    var sum = vec4(at, 1.0, 0.5);
    for (var i = 0u; i < STEPS; i += 1u) { sum = fma(sum, vec4(0.999), at.xyxy); }
    return sum;
}
@compute @workgroup_size(8, 8)
fn compute(@builtin(global_invocation_id) id: vec3<u32>) {
    sums[id.y * SIDE + id.x] = sum(vec2<f32>(id.xy));
}
@vertex
fn vertex(@builtin(vertex_index) index: u32) -> @builtin(position) vec4<f32> {
    return vec4(vec2(f32((index << 1u) & 2u), f32(index & 2u)) * 2.0 - 1.0, 0.0, 1.0);
}
@fragment
fn fragment(@builtin(position) at: vec4<f32>) -> @location(0) vec4<f32> {
    return sum(at.xy - 0.5);
}";

/// The time of the arithmetic in pixels, in times of the same in compute shaders.
pub(crate) fn pixels_to_compute() -> Outcome<f64> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let adapter = pollster::block_on(instance.request_adapter(&wgpu::RequestAdapterOptions {
        power_preference: wgpu::PowerPreference::HighPerformance,
        ..Default::default()
    }))?;
    let (device, queue) =
        pollster::block_on(adapter.request_device(&wgpu::DeviceDescriptor::default()))?;
    let shader = device.create_shader_module(wgpu::ShaderModuleDescriptor {
        label: None,
        source: wgpu::ShaderSource::Wgsl(SHADER.replace("SIDE", &SIDE.to_string()).into()),
    });
    let constants = [("STEPS", f64::from(STEPS))];
    let compilation_options = wgpu::PipelineCompilationOptions {
        constants: &constants,
        ..Default::default()
    };
    let computing = device.create_compute_pipeline(&wgpu::ComputePipelineDescriptor {
        label: None,
        layout: None,
        module: &shader,
        entry_point: Some("compute"),
        compilation_options: compilation_options.clone(),
        cache: None,
    });
    let format = wgpu::TextureFormat::Rgba32Float;
    let drawing = device.create_render_pipeline(&wgpu::RenderPipelineDescriptor {
        label: None,
        layout: None,
        vertex: wgpu::VertexState {
            module: &shader,
            entry_point: Some("vertex"),
            compilation_options: Default::default(),
            buffers: &[],
        },
        primitive: wgpu::PrimitiveState::default(),
        depth_stencil: None,
        multisample: wgpu::MultisampleState::default(),
        fragment: Some(wgpu::FragmentState {
            module: &shader,
            entry_point: Some("fragment"),
            compilation_options,
            targets: &[Some(format.into())],
        }),
        multiview_mask: None,
        cache: None,
    });
    let sums = device.create_buffer(&wgpu::BufferDescriptor {
        label: None,
        size: u64::from(SIDE * SIDE) * size_of::<[f32; 4]>() as u64,
        usage: wgpu::BufferUsages::STORAGE,
        mapped_at_creation: false,
    });
    let group = device.create_bind_group(&wgpu::BindGroupDescriptor {
        label: None,
        layout: &computing.get_bind_group_layout(0),
        entries: &[wgpu::BindGroupEntry {
            binding: 0,
            resource: sums.as_entire_binding(),
        }],
    });
    let picture = device.create_texture(&wgpu::TextureDescriptor {
        label: None,
        size: wgpu::Extent3d {
            width: SIDE,
            height: SIDE,
            depth_or_array_layers: 1,
        },
        mip_level_count: 1,
        sample_count: 1,
        dimension: wgpu::TextureDimension::D2,
        format,
        usage: wgpu::TextureUsages::RENDER_ATTACHMENT,
        view_formats: &[],
    });
    let view = picture.create_view(&wgpu::TextureViewDescriptor::default());
    let compute = |encoder: &mut wgpu::CommandEncoder| {
        let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor::default());
        pass.set_pipeline(&computing);
        pass.set_bind_group(0, &group, &[]);
        pass.dispatch_workgroups(SIDE / 8, SIDE / 8, 1);
    };
    let draw = |encoder: &mut wgpu::CommandEncoder| {
        let mut pass = encoder.begin_render_pass(&wgpu::RenderPassDescriptor {
            label: None,
            color_attachments: &[Some(wgpu::RenderPassColorAttachment {
                view: &view,
                depth_slice: None,
                resolve_target: None,
                ops: wgpu::Operations::default(),
            })],
            ..Default::default()
        });
        pass.set_pipeline(&drawing);
        pass.draw(0..3, 0..1);
    };
    let fastest = |run: &dyn Fn(&mut wgpu::CommandEncoder)| -> Outcome<f64> {
        let mut fastest = f64::INFINITY;
        for _ in 0..RUNS {
            let mut encoder = device.create_command_encoder(&Default::default());
            run(&mut encoder);
            let started = Instant::now();
            queue.submit([encoder.finish()]);
            device.poll(wgpu::PollType::wait_indefinitely())?;
            fastest = fastest.min(started.elapsed().as_secs_f64());
        }
        Ok(fastest)
    };
    Ok(fastest(&draw)? / fastest(&compute)?)
}
