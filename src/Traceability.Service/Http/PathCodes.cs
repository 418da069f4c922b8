using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>Reads codes out of a path, with every fault at once.</summary>
internal sealed class PathCodes
{
    private readonly List<Fault> _faults = [];

    /// <summary>The refusal; null while every code has its form.</summary>
    public Refusal? Refusal => _faults.Count == 0
        ? null
        : new("path-invalid", RefusalKind.Malformed, "A part of the address does not have its form. Every fault is listed.", [.. _faults]);

    /// <summary>The code; of no use once there is a refusal.</summary>
    public T Read<T>(string name, string text)
        where T : struct, ICode<T>
    {
        if (!Codes.TryParse<T>(text, out var code))
        {
            _faults.Add(new(name, Codes.Form<T>()));
        }

        return code;
    }

    /// <summary>A unit's key; of no use once there is a refusal.</summary>
    public UnitKey Unit(string item, string serial) => new(Read<ItemNumber>("item", item), Read<SerialNumber>("serial", serial));
}
