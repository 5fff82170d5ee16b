"""A rendered feed: scene-linear light of a boathouse interview, through a model of a camera.

Nothing here is drawn in code values. The scene is reflectance and light; the camera turns
it into electrons, signal and codes; what is true of each frame is known
(:class:`analysis.feed.scene.truth.Truth`), so that readings can be compared with it.

An address is ``scene:boathouse?name=value&name=value``:

=============  ==========================  =====================================================
name           value                       meaning
=============  ==========================  =====================================================
size           1280x720                    picture size, up to 8192x8192
rate           25                          pictures a second
layout         yuyv422                     pixel format by FFmpeg's name
bits           8, 10, 12                   chooses a 4:2:2 layout of that depth
range          narrow, full                how codes are scaled
matrix         bt709, bt601, bt2020        luma weights
curve          bt709                       any curve of :mod:`analysis.signal.curves`
ceiling        95                          level in IRE where R'G'B' stops rising
nd             2                           neutral density in stops
iso, native    800, 800                    sensitivity set, and the sensor's own
t              2.8                         T-stop
shutter        180                         shutter angle in degrees
headroom       6                           stops from an 18 % card to saturation at native ISO
full_well      60000                       electrons a pixel holds
read_noise     6                           electrons of noise of reading a pixel
lamp           on, off, 0.5                the work lamp and its power
lamp_at        bench, key                  over the bench, or beside the camera as the sitter's key
distance       2                           of the lamp from the sitter, where it is the key
lake           1                           strength of the light from outside: 1 by day, 0.1 at dusk
doors          open, shut                  whether the lake is seen; shut, its light comes in by a window
complexion     intermediate                very-light, light, intermediate, tan, brown, dark
clouds         on, off                     whether the lake light drifts
sun            auto, on, off               whether the sun breaks through (auto: 17 s in three minutes)
sway           on, off                     whether the sitter moves
noise          on, off                     shot and read noise
seed           1                           another seed is another day
begin          0                           scene time of the first picture in seconds
turns          8:-2,20:2                   stops by which all light changes at these seconds
switch         10,30                       seconds at which the lamp goes out or on
=============  ==========================  =====================================================
"""
