namespace Traceability.Service.Features.MasterData;

/// <summary>How the entries of one section become facts of one type.</summary>
/// <param name="Name">The section's name in the file.</param>
/// <param name="FactType">The type of fact.</param>
/// <param name="Members">The members of an entry: name in the file, place in the fact.</param>
internal sealed record MasterDataSection(string Name, string FactType, ImmutableArray<(string From, string To)> Members)
{
    /// <summary>Members that stand in an entry but not in its own fact: parts with facts of their own, and switches.</summary>
    public ImmutableArray<string> Apart { get; init; } = [];

    /// <summary>The parts of an entry with facts of their own.</summary>
    public ImmutableArray<MasterDataSection> Parts { get; init; } = [];

    /// <summary>For a part: what its fact takes from the entry that it stands in: name there, place in the fact.</summary>
    public ImmutableArray<(string From, string To)> FromOwner { get; init; } = [];

    /// <summary>The member, or the two joined by "/", that tell one entry from another.</summary>
    public ImmutableArray<string> Key { get; init; } = [];
}

/// <summary>The sections of a master-data file.</summary>
internal static class MasterDataSections
{
    /// <summary>Names of the members that are at the top beside the sections.</summary>
    public static readonly ImmutableArray<string> Top = ["asOf", "person"];

    private static readonly MasterDataSection Qualifications =
        Part("qualifications", "qualification-granted", ["qualification", "validUntil"], ("person", "/subject"));

    private static readonly MasterDataSection Calibrations =
        Part("calibrations", "tool-calibrated", ["foundGood", "leftGood", "validUntil", "certificate", "points"], ("tool", "/tool"));

    private static readonly MasterDataSection Settings =
        Part("settings", "tool-setting-verified", ["setting", "torque", "validUntil", "uncertainty"], ("tool", "/tool"));

    private static readonly MasterDataSection Containers =
        Part("containers", "container-opened", ["container", "stations"], ("item", "/lot/item"), ("lot", "/lot/lot"));

    /// <summary>The sections, in the order in which their facts can be recorded.</summary>
    public static readonly ImmutableArray<MasterDataSection> All =
    [
        Section("sites", "site-defined", "site", "description", "timeZone") with { Key = ["site"] },
        new("stations", "station-defined", [("station", "/subject"), ("site", "/site"), ("description", "/description")]) { Key = ["station"] },
        Section("defects", "defect-code-defined", "defect", "description") with { Key = ["defect"] },
        Section("items", "item-defined", "item", "kind", "description", "variants", "lifeAfterOpening", "cure", "needsInspection", "approvalsNeeded", "mix", "potLife", "potLifeByTemperature", "openedLifeByTemperature", "openTimeByTemperature") with { Key = ["item"] },
        new("people", "person-defined", [("person", "/subject"), ("displayName", "/displayName")]) { Key = ["person"], Parts = [Qualifications] },
        Section("tools", "tool-defined", "tool", "toolClass", "description", "needsCalibration", "calibrationInterval") with { Key = ["tool"], Parts = [Calibrations, Settings] },
        new(
            "lots",
            "lot-received",
            [("item", "/lot/item"), ("lot", "/lot/lot"), ("supplierLot", "/supplierLot"), ("supplier", "/supplier"), ("quantity", "/quantity"), ("expiresAt", "/expiresAt"), ("isReleased", "/isReleased"), ("stations", "/stations")])
        {
            Key = ["item", "lot"],
            Parts = [Containers],
        },
        new(
            "routings",
            "routing-drafted",
            [.. new[] { "item", "revision", "description", "effectivity", "steps", "intervals" }.Select(m => (m, $"/revision/{m}"))])
        {
            Key = ["item", "revision"],
            Apart = ["release", "releasedBy"],
        },
        Section("replacements", "replacement-declared", "item", "replaced", "with", "revisions", "validFrom", "reason", "authorisedBy"),
    ];

    private static MasterDataSection Section(string name, string type, params string[] members) =>
        new(name, type, [.. members.Select(m => (m, $"/{m}"))]);

    private static MasterDataSection Part(string name, string type, string[] members, params (string From, string To)[] fromOwner) =>
        Section(name, type, members) with { FromOwner = [.. fromOwner] };
}
