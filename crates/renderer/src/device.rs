//! The graphics device: WebGPU, WebGL 2 or a native one without a window.

use std::future::poll_fn;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Poll, Waker};

use crate::RendererError;

/// Which device draws, for the about panel and for the record of measurements.
#[derive(Clone, Debug)]
pub struct BackendInfo {
    /// `WebGPU`, `WebGL 2` or the native interface.
    pub name: String,
    /// The adapter's own name; browsers may hide it.
    pub adapter: String,
    /// Largest side of a texture (px).
    pub largest_texture_px: u32,
}

/// A device, its queue and what it can do.
#[derive(Debug)]
pub struct Gpu {
    /// The device.
    pub device: wgpu::Device,
    /// Its queue.
    pub queue: wgpu::Queue,
    /// Which one it is.
    pub info: BackendInfo,
    loss: Arc<Loss>,
}

/// Whether the device is gone, and who waits to hear of it.
#[derive(Debug, Default)]
struct Loss {
    gone: AtomicBool,
    waiting: Mutex<Option<Waker>>,
}

impl Loss {
    fn tell(&self) {
        self.gone.store(true, Ordering::Release);
        let waiting = self.waiting().take();
        if let Some(waker) = waiting {
            waker.wake();
        }
    }

    fn waiting(&self) -> std::sync::MutexGuard<'_, Option<Waker>> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Gpu {
    /// A device that can present to `surface`.
    ///
    /// # Errors
    /// [`RendererError::NoDevice`] where the system offers none.
    pub async fn new(
        instance: &wgpu::Instance,
        surface: Option<&wgpu::Surface<'_>>,
    ) -> Result<(Self, wgpu::Adapter), RendererError> {
        let adapter = instance
            .request_adapter(&wgpu::RequestAdapterOptions {
                power_preference: wgpu::PowerPreference::HighPerformance,
                compatible_surface: surface,
                ..Default::default()
            })
            .await
            .map_err(no_device)?;
        // The limits of WebGL 2 on every backend keep one code path; only sizes follow the adapter.
        let limits = wgpu::Limits::downlevel_webgl2_defaults().using_resolution(adapter.limits());
        let (device, queue) = adapter
            .request_device(&wgpu::DeviceDescriptor {
                label: Some("ganosis"),
                required_limits: limits.clone(),
                memory_hints: wgpu::MemoryHints::MemoryUsage,
                ..Default::default()
            })
            .await
            .map_err(no_device)?;
        let loss = Arc::new(Loss::default());
        let of_device = Arc::clone(&loss);
        device.set_device_lost_callback(move |_, _| of_device.tell());
        let about = adapter.get_info();
        let info = BackendInfo {
            name: backend_name(about.backend).to_owned(),
            adapter: about.name,
            largest_texture_px: limits.max_texture_dimension_2d,
        };
        Ok((
            Self {
                device,
                queue,
                info,
                loss,
            },
            adapter,
        ))
    }

    /// A native device without a window, for tests, reports and measurements.
    ///
    /// # Errors
    /// [`RendererError::NoDevice`] where no driver is installed.
    pub async fn headless() -> Result<Self, RendererError> {
        let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
        Ok(Self::new(&instance, None).await?.0)
    }

    /// True once the device is gone; everything made from it is then void.
    #[must_use]
    pub fn is_lost(&self) -> bool {
        self.loss.gone.load(Ordering::Acquire)
    }

    /// Ends when the device is gone. Where nothing is drawn nobody asks [`Gpu::is_lost`]. One waits at a
    /// time: the last that asked.
    pub fn loss(&self) -> impl Future<Output = ()> + use<> {
        let loss = Arc::clone(&self.loss);
        poll_fn(move |context| {
            *loss.waiting() = Some(context.waker().clone());
            if loss.gone.load(Ordering::Acquire) {
                Poll::Ready(())
            } else {
                Poll::Pending
            }
        })
    }

    /// From now on an error of the device counts as its loss, and `told` hears of it. On WebGL a context goes
    /// without a word, and what is made before the browser says so fails as if it were wrong.
    pub fn lost_by_errors(&self, told: impl Fn(String) + Send + Sync + 'static) {
        let loss = Arc::clone(&self.loss);
        self.device.on_uncaptured_error(Arc::new(move |error| {
            loss.tell();
            told(error.to_string());
        }));
    }

    /// Refuses sizes that the device cannot hold.
    ///
    /// # Errors
    /// [`RendererError::TooLarge`] naming `what`.
    pub fn check_size(
        &self,
        what: &str,
        width_px: u32,
        height_px: u32,
    ) -> Result<(), RendererError> {
        let largest_px = self.info.largest_texture_px;
        if width_px == 0 || height_px == 0 {
            return Err(RendererError::Mismatch {
                what: what.to_owned(),
                detail: format!(
                    "the size is {width_px} × {height_px} px; an image needs at least one pixel"
                ),
            });
        }
        if width_px > largest_px || height_px > largest_px {
            return Err(RendererError::TooLarge {
                what: what.to_owned(),
                width_px,
                height_px,
                largest_px,
            });
        }
        Ok(())
    }
}

fn no_device(error: impl std::fmt::Display) -> RendererError {
    RendererError::NoDevice {
        detail: error.to_string(),
    }
}

fn backend_name(backend: wgpu::Backend) -> &'static str {
    match backend {
        wgpu::Backend::BrowserWebGpu => "WebGPU",
        wgpu::Backend::Gl => "WebGL 2",
        wgpu::Backend::Vulkan => "Vulkan",
        wgpu::Backend::Metal => "Metal",
        wgpu::Backend::Dx12 => "Direct3D 12",
        wgpu::Backend::Noop => "none",
    }
}
