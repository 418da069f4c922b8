using System.Reflection;
using System.Text.Json.Nodes;
using Microsoft.OpenApi;
using Swashbuckle.AspNetCore.SwaggerGen;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Http;

/// <summary>The description of the API: OpenAPI 3.1, the same text each time it is made.</summary>
internal static class OpenApiSetup
{
    /// <summary>Name of the one document.</summary>
    public const string DocumentName = "openapi";

    /// <summary>Name of the security scheme in it.</summary>
    public const string SecurityScheme = "key";

    private static readonly Assembly[] DescribedAssemblies = [typeof(OpenApiSetup).Assembly, typeof(UnitKey).Assembly];

    /// <summary>Adds what makes it.</summary>
    public static void AddOpenApiDocument(this IServiceCollection services)
    {
        services.AddEndpointsApiExplorer();
        services.AddSwaggerGen(Configure);
        services.AddSingleton<OpenApiText>();
    }

    private static void Configure(SwaggerGenOptions o)
    {
        o.SwaggerDoc(DocumentName, new()
        {
            Title = "Traceability",
            Version = "v1",
            Description = "Production traceability and quality: record how units are built, judge the records against released rules, and answer for them. "
                + "Every answer from 400 up is a problem document (RFC 9457). Times carry their offset (RFC 3339).",
        });
        o.AddServer(new() { Url = "/" });
        o.MapType<decimal>(() => new OpenApiSchema { Type = JsonSchemaType.Number, Format = "decimal" });
        o.MapType<decimal?>(() => new OpenApiSchema { Type = JsonSchemaType.Number | JsonSchemaType.Null, Format = "decimal" });
        o.MapType<TimeSpan>(Duration);
        o.SupportNonNullableReferenceTypes();
        o.NonNullableReferenceTypesAsRequired();
        o.SelectDiscriminatorNameUsing(_ => "type");
        o.CustomSchemaIds(t => SchemaId(t));
        o.SortSchemasWith(StringComparer.Ordinal);
        o.OrderActionsBy(d => $"/{d.RelativePath} {d.HttpMethod}");
        o.AddSecurityDefinition(SecurityScheme, new OpenApiSecurityScheme
        {
            Type = SecuritySchemeType.Http,
            Scheme = "bearer",
            BearerFormat = "trc_...",
            Description = "A key that an administrator gave. Its role decides what it may do; a station's key speaks for its station only.",
        });
        o.SchemaFilter<CodeSchemas>();
        o.OperationFilter<ProblemResponses>();
        o.DocumentFilter<ProblemSchemas>();
        foreach (var assembly in DescribedAssemblies)
        {
            o.IncludeXmlComments(assembly, includeControllerXmlComments: false);
        }
    }

    private static OpenApiSchema Duration() => new() { Type = JsonSchemaType.String, Format = "duration", Examples = [JsonValue.Create("PT10M")] };

    // View and Request say what a type is for in the code; a reader of the contract sees that from where it is used.
    private static string SchemaId(Type type) => type.IsGenericType
        ? type.Name[..type.Name.IndexOf('`', StringComparison.Ordinal)] + string.Concat(type.GetGenericArguments().Select(SchemaId))
        : type.Name;
}
