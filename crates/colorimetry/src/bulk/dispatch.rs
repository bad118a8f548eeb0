//! The best code for the processor at hand.

/// A loop compiled for every processor, for AVX2 and for AVX-512, chosen when it is called.
macro_rules! for_this_processor {
    ($(#[$doc:meta])* $name:ident, $work:ident, $wide:ident, $widest:ident, ($($arg:ident: $type:ty),*)) => {
        $(#[$doc])*
        fn $name($($arg: $type),*) {
            #[cfg(target_arch = "x86_64")]
            if std::arch::is_x86_feature_detected!("avx512f")
                && std::arch::is_x86_feature_detected!("avx512vl")
                && std::arch::is_x86_feature_detected!("avx512dq")
            {
                // SAFETY: the processor has just said that it has what the callee asks.
                return unsafe { $widest($($arg),*) };
            }
            #[cfg(target_arch = "x86_64")]
            if std::arch::is_x86_feature_detected!("avx2") {
                // SAFETY: the processor has just said that it has what the callee asks.
                return unsafe { $wide($($arg),*) };
            }
            $work($($arg),*);
        }

        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx512f,avx512vl,avx512dq")]
        fn $widest($($arg: $type),*) {
            $work($($arg),*);
        }

        #[cfg(target_arch = "x86_64")]
        #[target_feature(enable = "avx2")]
        fn $wide($($arg: $type),*) {
            $work($($arg),*);
        }
    };
}

pub(super) use for_this_processor;
