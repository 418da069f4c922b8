using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Routings;

/// <summary>A revision was written or rewritten; it applies to nothing until it is released.</summary>
public sealed record RoutingDrafted(RoutingRevision Revision) : Fact;

/// <summary>A revision was released: it can't be changed any more.</summary>
public sealed record RoutingReleased(ItemNumber Item, RevisionCode Revision, PersonCode? ReleasedBy) : Fact;
