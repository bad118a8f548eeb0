//! A graphics device without a window, hardware or software, for tests of
//! shaders and pictures.

/// Why there is no device.
#[derive(Debug, thiserror::Error)]
pub enum GpuError {
    /// No driver offers an adapter.
    #[error(
        "no graphics adapter: install a Vulkan driver (Debian, Ubuntu: libvulkan1 mesa-vulkan-drivers): {0}"
    )]
    Adapter(#[from] wgpu::RequestAdapterError),
    /// The adapter gives no device with the limits of WebGL 2.
    #[error("the adapter gives no device: {0}")]
    Device(#[from] wgpu::RequestDeviceError),
}

/// A device, its queue and what it runs on.
#[derive(Debug)]
pub struct Gpu {
    /// Makes resources.
    pub device: wgpu::Device,
    /// Takes work.
    pub queue: wgpu::Queue,
    /// Name and kind of the adapter.
    pub adapter: wgpu::AdapterInfo,
}

impl Gpu {
    /// A device limited to what WebGL 2 guarantees, so that what passes here can run there.
    ///
    /// # Errors
    /// There is no driver, or it offers less than WebGL 2.
    pub fn headless() -> Result<Self, GpuError> {
        pollster::block_on(Self::request())
    }

    async fn request() -> Result<Self, GpuError> {
        let instance = wgpu::Instance::new(wgpu::InstanceDescriptor {
            backends: wgpu::Backends::VULKAN,
            ..wgpu::InstanceDescriptor::new_without_display_handle()
        });
        let adapter = instance
            .request_adapter(&wgpu::RequestAdapterOptions::default())
            .await?;
        let limits = wgpu::Limits::downlevel_webgl2_defaults().using_resolution(adapter.limits());
        let descriptor = wgpu::DeviceDescriptor {
            label: Some("headless"),
            required_limits: limits,
            ..Default::default()
        };
        let (device, queue) = adapter.request_device(&descriptor).await?;
        Ok(Self {
            device,
            queue,
            adapter: adapter.get_info(),
        })
    }
}
