"""What PyPI `usd-core` says of a package, and what it reads there: usd_check.py FILE"""
import json
import sys

from pxr import Usd, UsdGeom, UsdShade, UsdValidation

path = sys.argv[1]
stage = Usd.Stage.Open(path)
registry = UsdValidation.ValidationRegistry()
validators = registry.GetOrLoadAllValidators()
errors = UsdValidation.ValidationContext(validators).Validate(stage)

root = stage.GetDefaultPrim()
meshes = [prim for prim in stage.Traverse() if prim.IsA(UsdGeom.Mesh)]
states = {}
if root.GetVariantSets().HasVariantSet("state"):
    chosen = root.GetVariantSet("state")
    for name in chosen.GetVariantNames():
        chosen.SetVariantSelection(name)
        shown = {}
        for prim in meshes:
            material, _ = UsdShade.MaterialBindingAPI(prim).ComputeBoundMaterial()
            picture = None
            if material:
                shader = stage.GetPrimAtPath(material.GetPath().AppendChild("Picture"))
                if shader:
                    picture = UsdShade.Shader(shader).GetInput("file").Get()
                    picture = {"named": picture.path, "found": bool(picture.resolvedPath)}
            visible = UsdGeom.Imageable(prim).ComputeVisibility() != UsdGeom.Tokens.invisible
            shown[prim.GetName()] = {"material": str(material.GetPath()) if material else None,
                                     "picture": picture, "visible": visible}
        states[name] = shown

cache = UsdGeom.BBoxCache(Usd.TimeCode.Default(), [UsdGeom.Tokens.default_])
box = cache.ComputeWorldBound(root).ComputeAlignedRange()
pins = {}
scope = stage.GetPrimAtPath("/Object/Pins")
if scope:
    for prim in scope.GetChildren():
        place = UsdGeom.Xformable(prim).GetLocalTransformation().ExtractTranslation()
        pins[prim.GetCustomDataByKey("id")] = {"place": list(place), "title": prim.GetDisplayName(),
                                               "text": prim.GetCustomDataByKey("text")}
first = UsdGeom.Mesh(meshes[0])
print(json.dumps({
    "validators": len(validators),
    "errors": [f"{error.GetName()}: {error.GetMessage()}" for error in errors],
    "metres": UsdGeom.GetStageMetersPerUnit(stage),
    "up": UsdGeom.GetStageUpAxis(stage),
    "states": states,
    "triangles": sum(len(UsdGeom.Mesh(prim).GetFaceVertexCountsAttr().Get()) for prim in meshes),
    "first_point": list(first.GetPointsAttr().Get()[0]),
    "first_uv": list(UsdGeom.PrimvarsAPI(meshes[0]).GetPrimvar("st").Get()[0]),
    "box": [list(box.GetMin()), list(box.GetMax())],
    "pins": pins,
    "reduced": stage.GetRootLayer().customLayerData.get("ganosisReduced"),
    "document": stage.GetRootLayer().customLayerData.get("ganosisDocument"),
    "sounds": [str(prim.GetAttribute("filePath").Get().path) for prim in stage.Traverse() if prim.GetTypeName() == "SpatialAudio"],
}))
