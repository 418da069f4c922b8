namespace Traceability.Service.Security;

/// <summary>What a key's holder is.</summary>
internal static class Roles
{
    /// <summary>A station's terminal: sends what happens at that station.</summary>
    public const string Station = "station";

    /// <summary>Quality: decides about units and lots.</summary>
    public const string Quality = "quality";

    /// <summary>Process engineering: defines items, routings, tools, people and stations.</summary>
    public const string Engineer = "engineer";

    /// <summary>The administrator: gives keys, and may do everything.</summary>
    public const string Admin = "admin";

    /// <summary>Every role.</summary>
    public static ImmutableArray<string> All { get; } = [Station, Quality, Engineer, Admin];
}
